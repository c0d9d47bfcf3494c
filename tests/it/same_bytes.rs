//! Same photo, same rules, same version: the same bytes out, whatever the number of threads.

use std::path::Path;
use std::process::Command;

use crate::support::root;
use crate::support::truth::{Sample, sample};

/// Standard output and overlay of one run.
fn run(sample: &Sample, threads: &str, folder: &Path) -> (Vec<u8>, Vec<u8>) {
    let photo = root().join("sample-images").join(&sample.file);
    let output = Command::new(env!("CARGO_BIN_EXE_catchcup"))
        .args([
            "grade",
            "--json",
            "--threads",
            threads,
            "--line",
            &sample.line,
            "--overlay",
        ])
        .arg(folder)
        .arg(photo)
        .current_dir(folder)
        .env("XDG_CONFIG_HOME", folder)
        .output()
        .expect("the command runs");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let stem = sample.file.strip_suffix(".jpg").expect("a .jpg file");
    let overlay = std::fs::read(folder.join(format!("{stem}-graded.jpg"))).expect("an overlay");
    (output.stdout, overlay)
}

#[test]
fn one_and_two_threads_print_the_same() {
    let folder = std::env::temp_dir().join(format!("catchcup-threads-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    for name in ["red-mostly-clear", "blue-dark-and-light"] {
        let sample = sample(name);
        let (one, two) = (run(&sample, "1", &folder), run(&sample, "2", &folder));
        assert!(one.0.len() > 1000, "{name}: {} bytes", one.0.len());
        assert!(one.0 == two.0, "{name}: the records differ");
        assert!(one.1 == two.1, "{name}: the overlays differ");
    }
    let _ = std::fs::remove_dir_all(&folder);
}
