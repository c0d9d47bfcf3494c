//! placeholder
/// temporary
pub fn lab_of_ratio_fast(rgb: [f32; 3]) -> [f32; 3] {
    let f = |t: f32| if t > 216.0 / 24389.0 { t.cbrt() } else { (24389.0 / 27.0 * t + 16.0) / 116.0 };
    let x = (0.4123908 * rgb[0] + 0.3575843 * rgb[1] + 0.1804808 * rgb[2]) / 0.9504559;
    let y = 0.2126390 * rgb[0] + 0.7151687 * rgb[1] + 0.0721923 * rgb[2];
    let z = (0.0193308 * rgb[0] + 0.1191948 * rgb[1] + 0.9505322 * rgb[2]) / 1.0890578;
    let (fx, fy, fz) = (f(x), f(y), f(z));
    [116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)]
}
