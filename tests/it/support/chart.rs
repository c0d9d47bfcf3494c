//! Colour charts painted with known corners and colours: turned, tilted, blurred, noisy, under glare, in shadow, half covered.

use catchcup::photo::LinearImage;

/// Linear colours of the 24 patches, row by row.
pub type Patches = [[f64; 3]; 24];

/// What lies under and over the chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ground {
    /// A white table.
    White,
    /// A grey table.
    Grey,
    /// Boards of a brown table.
    Boards,
    /// The floor of a white cup on a brown table; the edge runs through the picture.
    CupAcross,
}

/// One painted chart.
#[derive(Debug, Clone)]
pub struct PaintedChart {
    /// Size of the picture.
    pub size: [usize; 2],
    /// Middle of the chart and pixels from patch to patch there.
    pub centre: [f64; 2],
    pub pitch: f64,
    /// Turn in the picture; tilt, and about which axis.
    pub turn_deg: f64,
    pub tilt_deg: f64,
    pub tilt_axis_deg: f64,
    /// The camera's own colours: seen = camera times linear colour.
    pub camera: [[f64; 3]; 3],
    /// Natural log of the change of light over one pitch, along and down the chart.
    pub gradient: [f64; 2],
    /// A lamp mirrored in the chart: place (column, row), radius in pitches, light added.
    pub glare: Option<([f64; 2], f64, f64)>,
    /// A hard shadow on columns below this one, and what is left of the light there.
    pub shadow: Option<(f64, f64)>,
    /// Something pale lying over columns from this one on.
    pub covered_from: Option<f64>,
    /// Standard deviation of the blur, pixels.
    pub blur: f64,
    /// Standard deviation of the noise, as a share of the light and of white.
    pub noise: f64,
    pub ground: Ground,
    pub seed: u32,
}

/// Half a patch, and the frame beyond the outer patches' centres, in pitches.
const HALF_PATCH: f64 = 0.4375;
const FRAME: f64 = 0.557;
const FRAME_LIGHT: [f64; 3] = [0.03, 0.03, 0.031];
/// Height of the camera over the chart, pitches.
const CAMERA: f64 = 25.0;

impl PaintedChart {
    /// A chart straight from above in the middle of a picture of 640 by 480, in even light.
    pub fn plain() -> Self {
        Self {
            size: [640, 480],
            centre: [320.0, 240.0],
            pitch: 30.0,
            turn_deg: 0.0,
            tilt_deg: 0.0,
            tilt_axis_deg: 0.0,
            camera: [[0.6, 0.0, 0.0], [0.0, 0.6, 0.0], [0.0, 0.0, 0.6]],
            gradient: [0.0; 2],
            glare: None,
            shadow: None,
            covered_from: None,
            blur: 0.7,
            noise: 0.01,
            ground: Ground::White,
            seed: 1,
        }
    }

    /// A chart anywhere in the picture at any turn, tilted to 15 degrees, by a camera of its own under a light of its own.
    pub fn any(seed: u32) -> Self {
        let mut r = Random(seed.wrapping_mul(747_796_405).wrapping_add(1));
        let pitch = r.between(14.0, 46.0);
        let gains = [r.between(0.55, 1.0), 0.8, r.between(0.5, 1.0)];
        let level = r.between(0.45, 1.0);
        let camera = std::array::from_fn(|c| {
            let mix: [f64; 3] =
                std::array::from_fn(|k| if k == c { 0.0 } else { r.between(-0.06, 0.1) });
            let own = 1.0 - mix.iter().sum::<f64>();
            std::array::from_fn(|k| level * gains[c] * if k == c { own } else { mix[k] })
        });
        let mut chart = Self {
            pitch,
            turn_deg: r.between(0.0, 360.0),
            tilt_deg: r.between(0.0, 15.0),
            tilt_axis_deg: r.between(0.0, 180.0),
            camera,
            gradient: [r.between(-0.06, 0.06), r.between(-0.06, 0.06)],
            blur: r.between(0.5, 1.3),
            noise: r.between(0.003, 0.02),
            ground: [Ground::Grey, Ground::Boards, Ground::CupAcross][(r.next() % 3) as usize],
            seed,
            ..Self::plain()
        };
        for _ in 0..200 {
            chart.centre = [r.between(0.0, 640.0), r.between(0.0, 480.0)];
            if chart.is_inside() {
                return chart;
            }
            chart.pitch = (chart.pitch * 0.97).max(14.0);
        }
        chart
    }

    fn is_inside(&self) -> bool {
        let room = |v: f64, size: usize| v > 2.0 && v < size as f64 - 3.0;
        self.corners()
            .iter()
            .all(|p| room(p[0], self.size[0]) && room(p[1], self.size[1]))
    }

    /// The pixel of a place on the chart: column and row, patch centres on whole numbers.
    pub fn pixel(&self, column: f64, row: f64) -> [f64; 2] {
        let (x, y) = (column - 2.5, row - 1.5);
        let (ts, tc) = self.turn_deg.to_radians().sin_cos();
        let (x, y) = (x * tc - y * ts, x * ts + y * tc);
        let (axis_s, axis_c) = self.tilt_axis_deg.to_radians().sin_cos();
        let (along, across) = (x * axis_c + y * axis_s, y * axis_c - x * axis_s);
        let (s, c) = self.tilt_deg.to_radians().sin_cos();
        let (across, depth) = (across * c, across * s);
        let near = CAMERA / (CAMERA + depth);
        let (along, across) = (along * near, across * near);
        [
            self.centre[0] + self.pitch * (along * axis_c - across * axis_s),
            self.centre[1] + self.pitch * (along * axis_s + across * axis_c),
        ]
    }

    /// The place on the chart of a pixel: the inverse of [`Self::pixel`].
    pub fn place(&self, x: f64, y: f64) -> [f64; 2] {
        let (dx, dy) = (
            (x - self.centre[0]) / self.pitch,
            (y - self.centre[1]) / self.pitch,
        );
        let (axis_s, axis_c) = self.tilt_axis_deg.to_radians().sin_cos();
        let (along, across) = (dx * axis_c + dy * axis_s, dy * axis_c - dx * axis_s);
        let (s, c) = self.tilt_deg.to_radians().sin_cos();
        // across = t c D / (D + t s)
        let t = across * CAMERA / (c * CAMERA - across * s);
        let along = along * (CAMERA + t * s) / CAMERA;
        let (x, y) = (along * axis_c - t * axis_s, along * axis_s + t * axis_c);
        let (ts, tc) = self.turn_deg.to_radians().sin_cos();
        [x * tc + y * ts + 2.5, y * tc - x * ts + 1.5]
    }

    /// The corners around the frame: beyond the first patch, along the six patches, around to the white end.
    pub fn corners(&self) -> [[f64; 2]; 4] {
        [
            (-FRAME, -FRAME),
            (5.0 + FRAME, -FRAME),
            (5.0 + FRAME, 3.0 + FRAME),
            (-FRAME, 3.0 + FRAME),
        ]
        .map(|(c, r)| self.pixel(c, r))
    }

    /// The picture, with a chart of these patches.
    pub fn paint(&self, patches: &Patches) -> LinearImage {
        let [w, h] = self.size;
        let mut sharp = LinearImage::new(w, h);
        for y in 0..h {
            for x in 0..w {
                let mut sum = [0.0; 3];
                for k in 0..9 {
                    let at = [
                        x as f64 + f64::from(k % 3 - 1) / 3.0,
                        y as f64 + f64::from(k / 3 - 1) / 3.0,
                    ];
                    let light = self.light(at, patches);
                    (0..3).for_each(|c| sum[c] += light[c] / 9.0);
                }
                (0..3).for_each(|c| sharp.planes[c][y * w + x] = sum[c] as f32);
            }
        }
        self.through_the_lens(sharp)
    }

    /// Light of a point in the photo, before blur and noise.
    fn light(&self, [x, y]: [f64; 2], patches: &Patches) -> [f64; 3] {
        let [column, row] = self.place(x, y);
        let on_frame =
            (-FRAME..5.0 + FRAME).contains(&column) && (-FRAME..3.0 + FRAME).contains(&row);
        let (c, r) = (column.round(), row.round());
        let on_patch = (column - c).abs() < HALF_PATCH && (row - r).abs() < HALF_PATCH;
        let surface = match (on_frame, on_patch) {
            (true, true) => patches[(r * 6.0 + c) as usize],
            (true, false) => FRAME_LIGHT,
            _ => self.ground_light(x, y),
        };
        let covered = on_frame && self.covered_from.is_some_and(|from| column >= from - 0.5);
        let surface = if covered { [0.7, 0.66, 0.6] } else { surface };
        let log = self.gradient[0] * (column - 2.5) + self.gradient[1] * (row - 1.5);
        let shade = match self.shadow {
            Some((below, left)) if column < below => left,
            _ => 1.0,
        };
        let mirrored = match self.glare {
            Some(([gc, gr], radius, light)) => {
                let d = (column - gc).hypot(row - gr) / radius;
                light * (1.0 - d * d).max(0.0).sqrt()
            }
            None => 0.0,
        };
        let light = surface.map(|v| v * log.exp().clamp(0.3, 3.0) * shade + mirrored);
        self.camera
            .map(|row| (0..3).map(|k| row[k] * light[k]).sum::<f64>().max(0.0))
    }

    fn ground_light(&self, x: f64, y: f64) -> [f64; 3] {
        match self.ground {
            Ground::White => [0.7, 0.7, 0.68],
            Ground::Grey => [0.32, 0.32, 0.31],
            Ground::Boards => {
                let grain = 1.0 + 0.25 * (y / 9.0 + (x / 60.0).sin()).sin();
                [0.22 * grain, 0.15 * grain, 0.09 * grain]
            }
            Ground::CupAcross => {
                let out = (x - 200.0).hypot(y - 200.0);
                match out {
                    d if d < 190.0 => [0.75, 0.75, 0.73],
                    d if d < 230.0 => [0.66, 0.66, 0.65],
                    _ => [0.2, 0.14, 0.09],
                }
            }
        }
    }

    fn through_the_lens(&self, mut picture: LinearImage) -> LinearImage {
        let [w, h] = self.size;
        let radius = (3.0 * self.blur).ceil() as i32;
        let kernel: Vec<f32> = (-radius..=radius)
            .map(|k| (-0.5 * (f64::from(k) / self.blur.max(1e-3)).powi(2)).exp() as f32)
            .collect();
        let total: f32 = kernel.iter().sum();
        let mut r = Random(self.seed.wrapping_mul(9_176_431).wrapping_add(77));
        for plane in &mut picture.planes {
            for (dx, dy) in [(1, 0), (0, 1)] {
                let from = plane.clone();
                for y in 0..h as i32 {
                    for x in 0..w as i32 {
                        let near = kernel.iter().enumerate().map(|(k, v)| {
                            let step = k as i32 - radius;
                            let sx = (x + dx * step).clamp(0, w as i32 - 1) as usize;
                            let sy = (y + dy * step).clamp(0, h as i32 - 1) as usize;
                            v * from[sy * w + sx]
                        });
                        plane[y as usize * w + x as usize] = near.sum::<f32>() / total;
                    }
                }
            }
            for v in plane.iter_mut() {
                let sigma = self.noise * (0.3 + f64::from(*v).max(0.0).sqrt());
                let noisy = f64::from(*v) + sigma * 0.6 * r.normal();
                // As in a photo: encoded, rounded to a byte, nothing beyond white.
                let byte = (catchcup::colour::srgb_encode(noisy.clamp(0.0, 1.0)) * 255.0).round();
                *v = catchcup::colour::srgb_decode(byte / 255.0) as f32;
            }
        }
        picture
    }
}

/// Numbers that look random, the same for the same seed.
#[derive(Debug, Clone)]
pub struct Random(pub u32);

impl Random {
    pub fn next(&mut self) -> u32 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let mut v = self.0;
        v ^= v >> 15;
        v = v.wrapping_mul(0x2C1B_3C6D);
        v ^ (v >> 12)
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * f64::from(self.next() >> 8) / f64::from(1u32 << 24)
    }

    /// Standard normal: twelve uniform numbers less six.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }
}
