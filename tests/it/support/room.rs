//! A folder in which the command is run as a user runs it.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use super::picture::{Extras, png};

/// An empty folder of its own for one test; settings of the machine are kept out.
pub struct Room(pub PathBuf);

impl Room {
    pub fn new(name: &str) -> Self {
        let path =
            Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path).expect("a folder for the test");
        Self(path)
    }

    pub fn file(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.join(name);
        std::fs::create_dir_all(path.parent().expect("a parent")).expect("a folder");
        std::fs::write(&path, bytes).expect("a file");
        path
    }

    /// A photo of an evenly lit white ground: nothing on it.
    pub fn white_photo(&self, name: &str) -> PathBuf {
        self.file(
            name,
            png(640, 480, &[236; 640 * 480 * 3], &Extras::default()),
        )
    }

    pub fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_catchcup"));
        command
            .args(args)
            .current_dir(&self.0)
            .env("XDG_CONFIG_HOME", self.0.join("settings"));
        command
            .env("HOME", &self.0)
            .env_remove("APPDATA")
            .env_remove("CLICOLOR_FORCE");
        command
    }

    pub fn run(&self, args: &[&str]) -> Output {
        self.command(args).output().expect("the command runs")
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

pub fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// What was said on standard error, with the lines of a sentence joined again.
pub fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).replace("\n  ", " ")
}
