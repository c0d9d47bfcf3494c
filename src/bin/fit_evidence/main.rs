//! Fits the evidence model. Usage: fit-evidence dump OUT_DIR TRUTH_DIR...
use catchcup::animals::{features, tones};
use catchcup::photo::LinearImage;
use catchcup::scene::light;
use std::io::Write;

fn main() {
    let args: Vec<String> = std::env::args().collect();
    let out = &args[2];
    for dir in &args[3..] {
        let mut stems: Vec<_> = std::fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()).filter(|p| p.extension().is_some_and(|e| e == "jpg")).collect();
        stems.sort();
        for p in stems {
            dump(&p, out);
        }
    }
}

fn dump(path: &std::path::Path, out: &str) {
    let truth: serde_json::Value = serde_json::from_slice(&std::fs::read(path.with_extension("json")).unwrap()).unwrap();
    let bytes = std::fs::read(path).unwrap();
    use image::ImageDecoder;
    let mut dec = image::ImageReader::new(std::io::Cursor::new(&bytes)).with_guessed_format().unwrap().into_decoder().unwrap();
    let o = dec.orientation().unwrap();
    let mut im = image::DynamicImage::from_decoder(dec).unwrap();
    im.apply_orientation(o);
    let rgb = im.to_rgb8();
    let (w, h) = (rgb.width() as usize, rgb.height() as usize);
    let mut lens: Vec<f64> = truth["animals"].as_array().unwrap().iter().filter(|a| a["cut"] == false).map(|a| a["body_length_px"].as_f64().unwrap()).collect();
    lens.sort_by(f64::total_cmp);
    let len = if lens.is_empty() { 220.0 } else { lens[lens.len() / 2] };
    let u_full = len / 8.0;
    let step = ((u_full / 18.0).round() as usize).max(1);
    let lin: Vec<f32> = (0..256).map(|i| { let v = i as f32 / 255.0; if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) } }).collect();
    let mut full = LinearImage::new(w, h);
    for (i, p) in rgb.pixels().enumerate() { for k in 0..3 { full.planes[k][i] = lin[p[k] as usize]; } }
    let planes: Vec<_> = full.planes.iter().map(|v| catchcup::plane::Plane { width: w, height: h, values: v.clone() }.reduced(step)).collect();
    let (ew, eh) = (planes[0].width, planes[0].height);
    let mut pic = LinearImage::new(ew, eh);
    for k in 0..3 { pic.planes[k] = planes[k].values.clone(); }
    // searched: true cup
    let c = &truth["cup"];
    let (cx, cy, r) = if c.is_object() { (c["centre_xy"][0].as_f64().unwrap(), c["centre_xy"][1].as_f64().unwrap(), c["inner_floor_diameter_px"].as_f64().unwrap() / 2.0 * 1.06) } else { (w as f64 / 2.0, h as f64 / 2.0, 1e9) };
    let asp = c["aspect"].as_f64().unwrap_or(1.0);
    let _ = asp;
    let searched: Vec<u8> = (0..ew * eh).map(|i| { let (x, y) = ((i % ew) as f64 * step as f64, (i / ew) as f64 * step as f64); u8::from((x - cx).hypot(y - cy) < r) }).collect();
    let u = (u_full / step as f64) as f32;
    let t0 = std::time::Instant::now();
    let flat = light::flatten(&pic, &searched, u * 1.2);
    let t1 = std::time::Instant::now();
    let tn = tones::tones(&flat);
    let noise = features::ground_noise(&tn, &searched);
    let t2 = std::time::Instant::now();
    let f = features::first_stage(&tn, u, noise);
    let t3 = std::time::Instant::now();
    let mask = image::open(path.with_extension("").to_string_lossy().to_string() + ".mask.png").unwrap().to_luma8();
    let alpha = image::open(path.with_extension("").to_string_lossy().to_string() + ".alpha.png").unwrap().to_luma8();
    let frac = |f: &dyn Fn(u8) -> bool| -> Vec<f32> {
        let p = catchcup::plane::Plane { width: w, height: h, values: mask.pixels().map(|m| f32::from(u8::from(f(m[0])))).collect() };
        p.reduced(step).values
    };
    let _ = alpha;
    let mut file = std::io::BufWriter::new(std::fs::File::create(format!("{out}/{}.bin", path.file_stem().unwrap().to_string_lossy())).unwrap());
    let mut chans: Vec<Vec<f32>> = vec![frac(&|m| (1..150).contains(&m)), frac(&|m| m >= 200), frac(&|m| (150..200).contains(&m)), searched.iter().map(|&m| f32::from(m)).collect(), tn.lightness.values.clone(), tn.a.values.clone(), tn.b.values.clone()];
    chans.extend(f.into_iter().map(|p| p.values));
    for v in [chans.len() as u32, ew as u32, eh as u32, step as u32] { file.write_all(&v.to_le_bytes()).unwrap(); }
    file.write_all(&u.to_le_bytes()).unwrap();
    for c in &chans { for v in c { file.write_all(&v.to_le_bytes()).unwrap(); } }
    println!("{:?} {ew}x{eh} step {step} u {u:.1} noise {noise:.2} flat {:?} tones {:?} feat {:?}", path.file_stem().unwrap(), t1 - t0, t2 - t1, t3 - t2);
}
