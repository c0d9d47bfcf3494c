//! Colour arithmetic: linear light, CIELAB (D65), Oklab, differences, hue as an angle, chromatic adaptation.
//!
//! Linear light has sRGB primaries and is never clipped here. A ratio to the cup floor is a linear colour too:
//! the floor is (1, 1, 1) and becomes CIELAB (100, 0, 0) exactly.

/// Rows of a 3 x 3 matrix.
pub type Matrix3 = [[f64; 3]; 3];

/// The matrix that changes nothing.
pub const IDENTITY: Matrix3 = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// D65 as XYZ with Y = 1, from chromaticity (0.3127, 0.3290) [IEC61966-2-1].
pub const WHITE_D65: [f64; 3] = xy_to_xyz([0.3127, 0.3290]);
/// D50 as XYZ with Y = 1 as profiles have it [ICC.1] 7.2.16.
pub const WHITE_D50_ICC: [f64; 3] = [0.9642, 1.0, 0.8249];

/// Linear sRGB to XYZ (D65), derived from the primaries [IEC61966-2-1].
pub const SRGB_TO_XYZ: Matrix3 = rgb_to_xyz([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]], WHITE_D65);
/// XYZ (D65) to linear sRGB.
pub const XYZ_TO_SRGB: Matrix3 = inverse(&SRGB_TO_XYZ);
/// Linear Display P3 to XYZ (D65); primaries of [SMPTE-EG432-1] with white D65.
pub const DISPLAY_P3_TO_XYZ: Matrix3 =
    rgb_to_xyz([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]], WHITE_D65);
/// Linear Display P3 to linear sRGB; colours outside sRGB leave 0..=1.
pub const DISPLAY_P3_TO_SRGB: Matrix3 = multiply(&XYZ_TO_SRGB, &DISPLAY_P3_TO_XYZ);
/// Linear Adobe RGB (1998) to linear sRGB; primaries of [AdobeRGB1998].
pub const ADOBE_RGB_TO_SRGB: Matrix3 = multiply(
    &XYZ_TO_SRGB,
    &rgb_to_xyz([[0.64, 0.33], [0.21, 0.71], [0.15, 0.06]], WHITE_D65),
);

/// Cone responses of the Bradford adaptation [Lam1985].
const BRADFORD: Matrix3 = [
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
];

/// Where the cube root of CIELAB gives way to a line, and the line's slope [CIE15].
const LAB_EPSILON: f64 = 216.0 / 24389.0;
const LAB_KAPPA: f64 = 24389.0 / 27.0;

/// Linear sRGB to the cone-like responses of Oklab [Ottosson2020].
const OKLAB_LMS: Matrix3 = [
    [0.412_221_470_8, 0.536_332_536_3, 0.051_445_992_9],
    [0.211_903_498_2, 0.680_699_545_1, 0.107_396_956_6],
    [0.088_302_461_9, 0.281_718_837_6, 0.629_978_700_5],
];
/// Cube roots of those responses to L, a, b [Ottosson2020].
const OKLAB_LAB: Matrix3 = [
    [0.210_454_255_3, 0.793_617_785_0, -0.004_072_046_8],
    [1.977_998_495_1, -2.428_592_205_0, 0.450_593_709_9],
    [0.025_904_037_1, 0.782_771_766_2, -0.808_675_766_0],
];

/// XYZ with Y = 1 of a chromaticity (x, y).
pub const fn xy_to_xyz(xy: [f64; 2]) -> [f64; 3] {
    [xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]]
}

/// Matrix product a b.
pub const fn multiply(a: &Matrix3, b: &Matrix3) -> Matrix3 {
    let mut out = [[0.0; 3]; 3];
    let mut i = 0;
    while i < 9 {
        let (r, c) = (i / 3, i % 3);
        out[r][c] = a[r][0] * b[0][c] + a[r][1] * b[1][c] + a[r][2] * b[2][c];
        i += 1;
    }
    out
}

/// Matrix times column.
pub const fn apply(m: &Matrix3, v: [f64; 3]) -> [f64; 3] {
    [
        m[0][0] * v[0] + m[0][1] * v[1] + m[0][2] * v[2],
        m[1][0] * v[0] + m[1][1] * v[1] + m[1][2] * v[2],
        m[2][0] * v[0] + m[2][1] * v[1] + m[2][2] * v[2],
    ]
}

/// Determinant.
pub const fn determinant(m: &Matrix3) -> f64 {
    m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1])
        - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0])
        + m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0])
}

/// Inverse by cofactors; not finite when the determinant is 0.
pub const fn inverse(m: &Matrix3) -> Matrix3 {
    let d = determinant(m);
    let mut out = [[0.0; 3]; 3];
    let mut i = 0;
    while i < 9 {
        let (r, c) = (i / 3, i % 3);
        let (r1, r2, c1, c2) = ((r + 1) % 3, (r + 2) % 3, (c + 1) % 3, (c + 2) % 3);
        // Cyclic indices carry the sign of the cofactor; rows and columns change places in the inverse.
        out[c][r] = (m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]) / d;
        i += 1;
    }
    out
}

/// Linear RGB to XYZ for primaries and white given as chromaticities and XYZ; RGB (1, 1, 1) becomes the white.
pub const fn rgb_to_xyz(primaries: [[f64; 2]; 3], white: [f64; 3]) -> Matrix3 {
    let (r, g, b) = (
        xy_to_xyz(primaries[0]),
        xy_to_xyz(primaries[1]),
        xy_to_xyz(primaries[2]),
    );
    let columns = [[r[0], g[0], b[0]], [r[1], g[1], b[1]], [r[2], g[2], b[2]]];
    let s = apply(&inverse(&columns), white);
    multiply(
        &columns,
        &[[s[0], 0.0, 0.0], [0.0, s[1], 0.0], [0.0, 0.0, s[2]]],
    )
}

/// Bradford adaptation of XYZ from one white to another (both XYZ with Y = 1).
///
/// # Source
/// [Lam1985].
pub const fn bradford(from: [f64; 3], to: [f64; 3]) -> Matrix3 {
    let (a, b) = (apply(&BRADFORD, from), apply(&BRADFORD, to));
    let gains = [
        [b[0] / a[0], 0.0, 0.0],
        [0.0, b[1] / a[1], 0.0],
        [0.0, 0.0, b[2] / a[2]],
    ];
    multiply(&inverse(&BRADFORD), &multiply(&gains, &BRADFORD))
}

/// Linear light of an encoded sRGB value; both 0..=1, values outside keep their sign.
///
/// # Source
/// [IEC61966-2-1].
pub fn srgb_decode(v: f64) -> f64 {
    let a = v.abs();
    let l = if a <= 0.04045 {
        a / 12.92
    } else {
        ((a + 0.055) / 1.055).powf(2.4)
    };
    l.copysign(v)
}

/// Encoded sRGB value of linear light; the inverse of [`srgb_decode`].
pub fn srgb_encode(l: f64) -> f64 {
    let a = l.abs();
    let v = if a <= 0.003_130_8 {
        a * 12.92
    } else {
        1.055 * a.powf(1.0 / 2.4) - 0.055
    };
    v.copysign(l)
}

/// CIELAB (D65) of linear RGB; (1, 1, 1) is (100, 0, 0).
///
/// # Source
/// [CIE15].
pub fn lab(linear: [f64; 3]) -> [f64; 3] {
    let xyz = apply(&SRGB_TO_XYZ, linear);
    let f = |i: usize| {
        let t = xyz[i] / WHITE_D65[i];
        if t > LAB_EPSILON {
            t.cbrt()
        } else {
            (LAB_KAPPA * t + 16.0) / 116.0
        }
    };
    lab_of_roots(f(0), f(1), f(2))
}

fn lab_of_roots(x: f64, y: f64, z: f64) -> [f64; 3] {
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// Linear RGB of a CIELAB (D65) colour; the inverse of [`lab`].
pub fn linear_from_lab(lab: [f64; 3]) -> [f64; 3] {
    apply(&XYZ_TO_SRGB, xyz_of_lab(lab, WHITE_D65))
}

fn xyz_of_lab(lab: [f64; 3], white: [f64; 3]) -> [f64; 3] {
    let y = (lab[0] + 16.0) / 116.0;
    let roots = [y + lab[1] / 500.0, y, y - lab[2] / 200.0];
    let back = |i: usize| {
        let cube = roots[i].powi(3);
        let t = if cube > LAB_EPSILON {
            cube
        } else {
            (116.0 * roots[i] - 16.0) / LAB_KAPPA
        };
        t * white[i]
    };
    [back(0), back(1), back(2)]
}

/// D50 of printed reference values, XYZ with Y = 1, from chromaticity (0.34570, 0.35854) [ICC.1].
const WHITE_D50_PRINT: [f64; 3] = xy_to_xyz([0.345_70, 0.358_54]);
/// XYZ (D50) to linear sRGB by way of Bradford [Lam1985].
const XYZ_D50_TO_SRGB: Matrix3 = multiply(&XYZ_TO_SRGB, &bradford(WHITE_D50_PRINT, WHITE_D65));

/// Linear RGB (D65) of a CIELAB colour under D50, adapted by Bradford; (100, 0, 0) is (1, 1, 1).
pub fn linear_from_lab_d50(lab: [f64; 3]) -> [f64; 3] {
    apply(&XYZ_D50_TO_SRGB, xyz_of_lab(lab, WHITE_D50_PRINT))
}

/// CIELAB (D65) of linear RGB for pixels: within 0.002 of [`lab`] for values in -0.2..=4.
#[inline(always)]
pub fn lab_of_ratio_fast(linear: [f32; 3]) -> [f32; 3] {
    const M: [[f32; 3]; 3] = SRGB_TO_WHITE_RATIO;
    let [r, g, b] = linear;
    let x = root_fast(M[0][0] * r + M[0][1] * g + M[0][2] * b);
    let y = root_fast(M[1][0] * r + M[1][1] * g + M[1][2] * b);
    let z = root_fast(M[2][0] * r + M[2][1] * g + M[2][2] * b);
    [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
}

/// Rows of [`SRGB_TO_XYZ`] over the white, so that (1, 1, 1) gives (1, 1, 1).
const SRGB_TO_WHITE_RATIO: [[f32; 3]; 3] = {
    let mut out = [[0.0f32; 3]; 3];
    let mut i = 0;
    while i < 9 {
        out[i / 3][i % 3] = (SRGB_TO_XYZ[i / 3][i % 3] / WHITE_D65[i / 3]) as f32;
        i += 1;
    }
    out
};

/// The root function of CIELAB without a branch, so that loops over pixels become vector code.
#[inline(always)]
fn root_fast(t: f32) -> f32 {
    let line = (LAB_KAPPA as f32 * t + 16.0) / 116.0;
    let root = cbrt_fast(t.max(LAB_EPSILON as f32));
    if t > LAB_EPSILON as f32 { root } else { line }
}

/// Cube root of a positive value to a relative error of 3e-7: a third of the exponent as the seed, two Halley steps.
#[inline(always)]
pub fn cbrt_fast(x: f32) -> f32 {
    // A third of the bits, plus two thirds of the exponent bias lifted to where the seed's error is smallest.
    // The product with 2^32 / 3 is a division by three that vectorises.
    let third = ((u64::from(x.to_bits()) * 0x5555_5556) >> 32) as u32;
    let mut y = f32::from_bits(third + 0x2A51_4067);
    for _ in 0..2 {
        let cube = y * y * y;
        y *= (cube + 2.0 * x) / (2.0 * cube + x);
    }
    y
}

/// Oklab (L 0..=1 for colours up to white) of linear RGB.
///
/// # Source
/// [Ottosson2020].
pub fn oklab(linear: [f64; 3]) -> [f64; 3] {
    apply(&OKLAB_LAB, apply(&OKLAB_LMS, linear).map(f64::cbrt))
}

/// Chroma: distance of a colour (CIELAB or Oklab) from the grey axis.
pub fn chroma(lab: [f64; 3]) -> f64 {
    lab[1].hypot(lab[2])
}

/// Hue angle in degrees [0, 360) of a colour (CIELAB or Oklab); 0 for an exact grey.
pub fn hue_deg(lab: [f64; 3]) -> f64 {
    wrap_deg(lab[2].atan2(lab[1]).to_degrees())
}

/// An angle brought to [0, 360).
pub fn wrap_deg(angle: f64) -> f64 {
    let wrapped = angle.rem_euclid(360.0);
    // The remainder of a tiny negative angle rounds to 360 itself.
    if wrapped >= 360.0 { 0.0 } else { wrapped }
}

/// Signed turn from hue `from` to hue `to` the short way round, degrees in (-180, 180].
pub fn hue_difference(from: f64, to: f64) -> f64 {
    let turn = wrap_deg(to - from);
    if turn > 180.0 { turn - 360.0 } else { turn }
}

/// A mean direction and how closely the angles keep to it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircularMean {
    /// Mean angle in degrees [0, 360); `None` when the angles have no direction in common.
    pub mean_deg: Option<f64>,
    /// Mean resultant length R, 0 (no direction) to 1 (all the same).
    pub r: f64,
}

/// Below this R the direction is rounding noise, not a property of the data.
const NO_DIRECTION: f64 = 1.0e-9;

/// Weighted mean direction of angles in degrees; `None` inside when there is none (opposite angles, no weight).
///
/// # Source
/// [MardiaJupp2000] 2.2.
pub fn circular_mean(angles_and_weights: impl IntoIterator<Item = (f64, f64)>) -> CircularMean {
    let (mut c, mut s, mut total) = (0.0, 0.0, 0.0);
    for (angle, weight) in angles_and_weights {
        let (sin, cos) = angle.to_radians().sin_cos();
        c += weight * cos;
        s += weight * sin;
        total += weight;
    }
    if total <= 0.0 {
        return CircularMean {
            mean_deg: None,
            r: 0.0,
        };
    }
    let r = (c.hypot(s) / total).min(1.0);
    let mean_deg = (r > NO_DIRECTION).then(|| wrap_deg(s.atan2(c).to_degrees()));
    CircularMean { mean_deg, r }
}

/// Colour difference CIEDE2000 between two CIELAB colours, weights 1.
///
/// # Source
/// [Sharma2005] equations 2 to 22.
pub fn ciede2000(one: [f64; 3], two: [f64; 3]) -> f64 {
    let mean_chroma = (chroma(one) + chroma(two)) / 2.0;
    let g = 0.5 * (1.0 - chroma_step(mean_chroma).sqrt());
    let stretched = |c: [f64; 3]| [c[0], c[1] * (1.0 + g), c[2]];
    let (p, q) = (stretched(one), stretched(two));
    let (c1, c2) = (chroma(p), chroma(q));
    let (h1, h2) = (hue_deg(p), hue_deg(q));
    let grey = c1 * c2 == 0.0;
    let dh = if grey { 0.0 } else { turn_2000(h1, h2) };
    let mean_h = if grey { h1 + h2 } else { mean_hue_2000(h1, h2) };
    let mean_l = (p[0] + q[0]) / 2.0;
    let mean_c = (c1 + c2) / 2.0;
    let l50 = (mean_l - 50.0).powi(2);
    let s_l = 1.0 + 0.015 * l50 / (20.0 + l50).sqrt();
    let s_c = 1.0 + 0.045 * mean_c;
    let s_h = 1.0 + 0.015 * mean_c * hue_weight_2000(mean_h);
    let l = (q[0] - p[0]) / s_l;
    let c = (c2 - c1) / s_c;
    let h = 2.0 * (c1 * c2).sqrt() * (dh.to_radians() / 2.0).sin() / s_h;
    let turn = -(60.0 * (-((mean_h - 275.0) / 25.0).powi(2)).exp())
        .to_radians()
        .sin();
    let r_t = turn * 2.0 * chroma_step(mean_c).sqrt();
    (l * l + c * c + h * h + r_t * c * h).max(0.0).sqrt()
}

/// c^7 / (c^7 + 25^7).
fn chroma_step(c: f64) -> f64 {
    let c7 = c.powi(7);
    c7 / (c7 + 25f64.powi(7))
}

/// Turn from h1 to h2 with the formula's own choice at 180 degrees (kept as found).
fn turn_2000(h1: f64, h2: f64) -> f64 {
    let d = h2 - h1;
    if d > 180.0 {
        d - 360.0
    } else if d < -180.0 {
        d + 360.0
    } else {
        d
    }
}

fn mean_hue_2000(h1: f64, h2: f64) -> f64 {
    let sum = h1 + h2;
    if (h1 - h2).abs() <= 180.0 {
        sum / 2.0
    } else if sum < 360.0 {
        (sum + 360.0) / 2.0
    } else {
        (sum - 360.0) / 2.0
    }
}

fn hue_weight_2000(mean_h: f64) -> f64 {
    let cos = |deg: f64| deg.to_radians().cos();
    1.0 - 0.17 * cos(mean_h - 30.0) + 0.24 * cos(2.0 * mean_h) + 0.32 * cos(3.0 * mean_h + 6.0)
        - 0.20 * cos(4.0 * mean_h - 63.0)
}
