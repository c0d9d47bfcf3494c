//! The room page in a real browser, by `tests/browser/room.mjs`: a day's work at phone and desktop size.
//!
//! Left out with a plain message where no browser, node or package registry is at hand, unless
//! `CATCHCUP_BROWSER=must` says that it has to run, as `.ci/run` does.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::support::room::Room;
use crate::support::root;
use crate::support::server::Server;

/// Fetched when the test runs; neither is part of the program.
const PACKAGES: [&str; 2] = ["puppeteer-core@24", "axe-core@4"];

fn runs(program: &str) -> bool {
    let version = Command::new(program).arg("--version").output();
    version.is_ok_and(|output| output.status.success())
}

/// The browser and a folder with the packages; else what is missing.
fn at_hand() -> Result<(&'static str, PathBuf), String> {
    let browser = ["chromium", "chromium-browser"]
        .into_iter()
        .find(|name| runs(name));
    let browser = browser.ok_or("no chromium")?;
    if !runs("node") || !runs("npm") {
        return Err("no node with npm".into());
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("browser");
    if !folder.join("node_modules/axe-core").is_dir() {
        std::fs::create_dir_all(&folder).map_err(|e| e.to_string())?;
        std::fs::write(folder.join("package.json"), "{\"private\":true}\n")
            .map_err(|e| e.to_string())?;
        let fetched = Command::new("npm")
            .args(["install", "--no-audit", "--no-fund", "--ignore-scripts"])
            .args(PACKAGES)
            .current_dir(&folder)
            .output()
            .map_err(|e| e.to_string())?;
        if !fetched.status.success() {
            return Err("no package registry".into());
        }
    }
    Ok((browser, folder))
}

#[test]
fn a_days_work_in_a_real_browser() {
    let (browser, packages) = match at_hand() {
        Ok(found) => found,
        Err(missing) => {
            let must = std::env::var("CATCHCUP_BROWSER").is_ok_and(|said| said == "must");
            assert!(!must, "{missing}");
            println!("left out: {missing}; install chromium, nodejs and npm to run it");
            return;
        }
    };
    let room = Room::new("browser");
    let made = room.run(&["demo", "house"]);
    assert_eq!(made.status.code(), Some(0));
    let start = room.run(&["price", "start"]);
    room.file("house/prices.toml", start.stdout);
    let server = Server::start_with(&room, &["--house", "house/house.toml"]);
    let pictures = Path::new(env!("CARGO_TARGET_TMPDIR")).join("room-pictures");
    std::fs::create_dir_all(&pictures).expect("a folder for the pictures");
    let output = Command::new("node")
        .arg(root().join("tests/browser/room.mjs"))
        .arg(format!("http://{}", server.host))
        .arg(&server.code)
        .arg(root().join("sample-images/red-clear-to-solid_8-animals.jpg"))
        .arg(&pictures)
        .current_dir(&packages)
        .env("BROWSER", browser)
        .output()
        .expect("node runs");
    let told = String::from_utf8_lossy(&output.stdout).into_owned();
    println!("{told}");
    assert!(
        output.status.success(),
        "{told}{}\npictures: {}",
        String::from_utf8_lossy(&output.stderr),
        pictures.display()
    );
}
