//! Light along one ray: thin lines taken out, steps of light found.

/// Closes, then opens a line of values: dark and bright lines up to `2 * half` long vanish, steps stay.
pub(super) fn without_thin_lines(line: &mut Vec<f32>, spare: &mut Vec<f32>, half: usize) {
    extremes(line, spare, half, f32::max);
    extremes(line, spare, 2 * half, f32::min);
    extremes(line, spare, half, f32::max);
}

/// Replaces each value by the extreme one within `half` of it.
fn extremes(line: &mut Vec<f32>, spare: &mut Vec<f32>, half: usize, pick: fn(f32, f32) -> f32) {
    let n = line.len();
    spare.clear();
    spare.extend_from_slice(line);
    for shift in 1..=half.min(n.saturating_sub(1)) {
        for (out, v) in spare.iter_mut().zip(&line[shift..]) {
            *out = pick(*out, *v);
        }
        for (out, v) in spare[shift..].iter_mut().zip(line.iter()) {
            *out = pick(*out, *v);
        }
    }
    std::mem::swap(line, spare);
}

/// Room for the sums of a line.
#[derive(Debug, Default)]
pub(super) struct Spare {
    pub line: Vec<f32>,
    sums: Vec<f32>,
    raw: Vec<f32>,
    raw_sums: Vec<f32>,
}

/// Outward fall at each place of a line, less the fall of its surroundings.
pub(super) fn falls_along(
    line: &[f32],
    out: &mut [f32],
    [gap, window, trend]: [usize; 3],
    spare: &mut Spare,
) {
    let margin = gap + window;
    if line.len() < 2 * margin + 1 {
        return;
    }
    let Spare {
        sums,
        raw,
        raw_sums,
        ..
    } = spare;
    running_sums(line, sums);
    let share = 1.0 / window as f32;
    raw.clear();
    raw.extend(sums.windows(2 * margin + 2).map(|s| {
        let (inner, outer) = (
            s[window] - s[0],
            s[2 * margin + 1] - s[2 * margin + 1 - window],
        );
        (inner - outer) * share
    }));
    running_sums(raw, raw_sums);
    for (i, v) in raw.iter().enumerate() {
        let (from, to) = (i.saturating_sub(trend), (i + trend + 1).min(raw.len()));
        out[i + margin] = v - (raw_sums[to] - raw_sums[from]) / (to - from) as f32;
    }
}

/// Sums of the first 0, 1, 2.. values.
fn running_sums(values: &[f32], sums: &mut Vec<f32>) {
    sums.clear();
    sums.push(0.0);
    let mut sum = 0.0;
    sums.extend(values.iter().map(|v| {
        sum += v;
        sum
    }));
}
