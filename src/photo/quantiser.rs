//! How coarsely a JPEG was quantised: what messengers and previews throw away.

/// Mean step of the luminance quantiser over its ten lowest frequencies but the mean's own; `None` for files that are no
/// JPEG. Cameras write 1 to 8; about 12 at "quality 60", 25 at 30.
///
/// # Source
/// [ITU-T81] B.2.4.1 (marker DQT), figure A.6 (order of the frequencies).
pub(super) fn luminance_step(file: &[u8]) -> Option<f64> {
    let mut at = file.starts_with(&[0xFF, 0xD8]).then_some(2)?;
    loop {
        let [0xFF, marker, high, low] = *file.get(at..at + 4)? else {
            return None;
        };
        let length = usize::from(u16::from_be_bytes([high, low]));
        match marker {
            0xDB => {
                if let Some(step) = step_of_tables(file.get(at + 4..at + 2 + length)?) {
                    return Some(step);
                }
            }
            // Start of scan: what follows is picture data.
            0xDA => return None,
            _ => {}
        }
        at += 2 + length.max(2);
    }
}

/// Frequencies that count: the first of the zigzag order after the mean.
const LOWEST: std::ops::RangeInclusive<usize> = 1..=10;

/// The mean step of table 0 (luminance) among the tables of one segment.
fn step_of_tables(mut tables: &[u8]) -> Option<f64> {
    while let [head, rest @ ..] = tables {
        let wide = head >> 4 == 1;
        let size = if wide { 128 } else { 64 };
        let table = rest.get(..size)?;
        if head & 0x0F == 0 {
            let entry = |i: usize| {
                if wide {
                    f64::from(u16::from_be_bytes([table[2 * i], table[2 * i + 1]]))
                } else {
                    f64::from(table[i])
                }
            };
            return Some(LOWEST.map(entry).sum::<f64>() / LOWEST.count() as f64);
        }
        tables = &rest[size..];
    }
    None
}

#[cfg(test)]
mod tests {
    use super::luminance_step;

    /// Table K.1 of [ITU-T81] in zigzag order begins 16 11 12 14 12 10 16 14 13 14 18: ten of them after the first, mean 13.4.
    #[test]
    fn the_standard_table() {
        let mut file = vec![0xFF, 0xD8, 0xFF, 0xE0, 0, 4, 1, 2, 0xFF, 0xDB, 0, 67, 0];
        file.extend([16, 11, 12, 14, 12, 10, 16, 14, 13, 14, 18]);
        file.extend([40; 53]);
        assert_eq!(luminance_step(&file), Some(13.4));
        assert_eq!(luminance_step(&file[..40]), None, "cut off");
        assert_eq!(luminance_step(b"\x89PNG\r\n"), None);
        assert_eq!(luminance_step(&[0xFF, 0xD8, 0xFF]), None);
    }
}
