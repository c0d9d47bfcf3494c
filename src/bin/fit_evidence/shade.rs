//! Rendered scenes with the hard shade of a bare lamp or the sun put in: the renderer's own lights are large and soft, and
//! what knows only those takes such shade for body.

use crate::rows::Dice;
use crate::truth::Truth;
use catchcup::photo::Photo;
use image::{ImageFormat, Rgb, RgbImage};
use std::io::Cursor;

/// How far the shade reaches beyond the body, in body widths; how much of the light it takes; how soft its edge is, in
/// body widths (house rules: what photos under a single lamp show; the real photos used for checking were not measured).
const REACH: [f32; 2] = [0.2, 0.8];
/// See [`REACH`].
const DEPTH: [f32; 2] = [0.3, 0.85];
/// See [`REACH`].
const SOFTNESS: [f32; 2] = [0.03, 0.2];
/// A clear body lets so much of the light through that its shade has this share of a solid one's...
const OF_CLEAR: f32 = 0.55;
/// ...and so much of the ground's shade is seen through it.
const SEEN_THROUGH: f32 = 0.75;
/// Body lengths to a body width (rendered dwarf shrimp).
const SLENDERNESS: f32 = 6.6;
/// Pixels to a body width of the picture in which shade is drawn.
const COARSE_WIDTH: f32 = 24.0;

/// A body's side away from the lamp loses up to this share of the light that the ground loses in the shade; the lit side
/// gains as much.
const OF_FORM: f32 = 0.4;

/// A scene in the light of one small lamp.
pub struct Shaded {
    pub truth: Truth,
    /// Unit vector, the way that shade falls.
    pub toward: [f32; 2],
}

/// The same scene in the light of one small lamp from a side drawn from `seed`; none without animals or on dark ground.
pub fn shaded(truth: &Truth, seed: u64) -> Option<Shaded> {
    let length = truth.length?;
    if truth.scene.ground == catchcup::scene::Ground::Dark {
        return None;
    }
    let width = length / SLENDERNESS;
    let mut dice = Dice::new(seed);
    let mut between =
        |[low, high]: [f32; 2]| low + (high - low) * dice.below(10_000) as f32 / 10_000.0;
    let (sine, cosine) = between([0.0, std::f32::consts::TAU]).sin_cos();
    let reach = between(REACH) * width;
    let depth = between(DEPTH);
    let softness = between(SOFTNESS) * width;
    let tint: [f32; 3] = std::array::from_fn(|_| between([0.94, 1.06]));
    let shade = Shade::cast(truth, [cosine * reach, sine * reach], softness, width);
    let mut picture = truth.photo.rgb8_upright();
    let form = Form::new(truth, [cosine, sine], width);
    let light = Light {
        taken: &|x, y| depth * shade.at(x, y),
        form: &|x, y| 1.0 - OF_FORM * depth * form.at(x, y),
        tint,
    };
    darken(&mut picture, truth, &light);
    let mut png = Cursor::new(Vec::new());
    picture.write_to(&mut png, ImageFormat::Png).ok()?;
    let photo = Photo::from_bytes(&truth.stem, png.into_inner()).ok()?;
    Some(Shaded {
        truth: truth.in_other_light(photo)?,
        toward: [cosine, sine],
    })
}

/// What the lamp does to the light at a pixel.
struct Light<'a> {
    /// Share of the light that is taken from the ground, 0..=1.
    taken: &'a dyn Fn(usize, usize) -> f32,
    /// What the light on a body is multiplied by.
    form: &'a dyn Fn(usize, usize) -> f32,
    /// How much more or less is taken of red, green and blue.
    tint: [f32; 3],
}

/// Takes light from the ground around and under the bodies, and from the sides of the bodies themselves.
fn darken(picture: &mut RgbImage, truth: &Truth, light: &Light) {
    let width = picture.width() as usize;
    for (x, y, Rgb(pixel)) in picture.enumerate_pixels_mut() {
        let (x, y) = (x as usize, y as usize);
        let i = y * width + x;
        let (seen, form) = match truth.mask[i] {
            0 => (1.0, 1.0),
            _ => (
                SEEN_THROUGH * (1.0 - f32::from(truth.opacity[i]) / 255.0),
                (light.form)(x, y),
            ),
        };
        let taken = (light.taken)(x, y) * seen;
        for (value, tint) in pixel.iter_mut().zip(light.tint) {
            let left = catchcup::colour::srgb_decode(f64::from(*value) / 255.0)
                * f64::from(form * (1.0 - taken * tint).max(0.05));
            *value = (catchcup::colour::srgb_encode(left.min(1.0)) * 255.0).round() as u8;
        }
    }
}

/// Shade on a coarse grid.
struct Shade {
    plane: catchcup::plane::Plane,
    step: usize,
}

impl Shade {
    /// What lies behind the bodies along `toward` (full-size pixels), softened.
    fn cast(truth: &Truth, toward: [f32; 2], softness: f32, body_width: f32) -> Self {
        let step = ((body_width / COARSE_WIDTH) as usize).max(1);
        let (full_w, full_h) = (truth.photo.width(), truth.photo.height());
        let (w, h) = (full_w.div_ceil(step), full_h.div_ceil(step));
        let stops = |x: i32, y: i32| -> f32 {
            if x < 0 || y < 0 || x as usize >= w || y as usize >= h {
                return 0.0;
            }
            let i = y as usize * step * full_w + x as usize * step;
            let pigment = f32::from(truth.opacity[i]) / 255.0;
            match truth.mask[i] {
                0 => 0.0,
                _ => OF_CLEAR + (1.0 - OF_CLEAR) * pigment,
            }
        };
        let far = toward[0].hypot(toward[1]) / step as f32;
        let steps = far.ceil().max(4.0) as i32;
        let mut plane = catchcup::plane::Plane::filled(w, h, 0.0);
        for y in 0..h {
            for x in 0..w {
                plane.values[y * w + x] = (0..=steps)
                    .map(|k| {
                        let t = k as f32 / steps as f32 / step as f32;
                        let [dx, dy] = toward.map(|v| (v * t).round() as i32);
                        stops(x as i32 - dx, y as i32 - dy)
                    })
                    .fold(0.0, f32::max);
            }
        }
        // Three box means come near to a normal blur of this spread.
        let radius = (softness / step as f32).round() as usize;
        let plane = (0..3).fold(plane, |p, _| p.box_mean(radius));
        Self { plane, step }
    }

    fn at(&self, x: usize, y: usize) -> f32 {
        let place = |v: usize| (v as f32 + 0.5) / self.step as f32 - 0.5;
        self.plane.sample(place(x), place(y))
    }
}

/// How bodies turn from the lamp: softened bodies fall off toward their sides.
struct Form {
    plane: catchcup::plane::Plane,
    step: usize,
    toward: [f32; 2],
    steepest: f32,
}

impl Form {
    fn new(truth: &Truth, toward: [f32; 2], body_width: f32) -> Self {
        let step = ((body_width / COARSE_WIDTH) as usize).max(1);
        let (full_w, full_h) = (truth.photo.width(), truth.photo.height());
        let (w, h) = (full_w.div_ceil(step), full_h.div_ceil(step));
        let mut plane = catchcup::plane::Plane::filled(w, h, 0.0);
        for (i, v) in plane.values.iter_mut().enumerate() {
            let (x, y) = ((i % w) * step, (i / w) * step);
            *v = f32::from(u8::from(truth.mask[y * full_w + x] > 0));
        }
        let radius = (body_width / 5.0 / step as f32).round() as usize;
        let plane = (0..3).fold(plane, |p, _| p.box_mean(radius));
        let mut form = Self {
            plane,
            step,
            toward,
            steepest: 1.0,
        };
        let all = (0..w * h).map(|i| form.slope((i % w) as f32, (i / w) as f32).abs());
        form.steepest = all.fold(1e-6, f32::max);
        form
    }

    /// How much the softened bodies fall toward the shade at a place of the grid.
    fn slope(&self, x: f32, y: f32) -> f32 {
        let [dx, dy] = self.toward;
        self.plane.sample(x - dx, y - dy) - self.plane.sample(x + dx, y + dy)
    }

    /// -1 where a body faces the lamp squarely, 1 where it faces away.
    fn at(&self, x: usize, y: usize) -> f32 {
        let place = |v: usize| (v as f32 + 0.5) / self.step as f32 - 0.5;
        (self.slope(place(x), place(y)) / self.steepest).clamp(-1.0, 1.0)
    }
}
