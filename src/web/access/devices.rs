//! Paired devices, in a file beside the book: names and digests of their tokens, never the tokens.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use axum::http::StatusCode;
use catchcup::book::photo_store::digest;
use jiff::civil::DateTime;
use serde_json::{Value, json};

use super::random_hex;
use crate::web::trouble::Trouble;

/// What a device may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Everything.
    Owner,
    /// The daily work.
    Helper,
    /// A program that reads.
    Reads,
    /// A program that reads and files photos.
    Files,
}

impl Role {
    pub fn word(self) -> &'static str {
        match self {
            Role::Owner => "owner",
            Role::Helper => "helper",
            Role::Reads => "program, reads",
            Role::Files => "program, reads and files photos",
        }
    }

    /// The role of that word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Owner, Self::Helper, Self::Reads, Self::Files]
            .into_iter()
            .find(|role| role.word() == word)
    }

    /// True for a person's phone or tablet, false for a program.
    pub fn is_person(self) -> bool {
        matches!(self, Self::Owner | Self::Helper)
    }
}

/// A paired device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Whose it is: what the book's trail says.
    pub name: String,
    pub role: Role,
    /// SHA-256 of its token.
    pub digest: String,
    /// When it was paired.
    pub since: String,
}

/// All paired devices.
#[derive(Debug)]
pub struct Devices {
    path: PathBuf,
    all: Vec<Device>,
}

impl Devices {
    /// Those of the book in the file `book`; none where no list is there yet.
    ///
    /// # Errors
    /// Where the list can't be read.
    pub fn beside(book: &Path) -> Result<Self> {
        let mut name = book.file_name().unwrap_or_default().to_os_string();
        name.push("-devices.json");
        let path = book.with_file_name(name);
        if !path.is_file() {
            let all = Vec::new();
            return Ok(Self { path, all });
        }
        let said = || {
            format!(
                "reading {}; where it is spoiled, remove it and pair all devices again",
                path.display()
            )
        };
        let text = std::fs::read_to_string(&path).with_context(said)?;
        let value: Value = serde_json::from_str(&text).with_context(said)?;
        let all: Option<Vec<Device>> = value
            .as_array()
            .and_then(|all| all.iter().map(device).collect());
        let all = all.with_context(said)?;
        Ok(Self { path, all })
    }

    /// Pairs a device; its token, which is told once and kept nowhere.
    ///
    /// # Errors
    /// Where the list can't be written.
    pub fn pair(&mut self, name: &str, role: Role, at: DateTime) -> Result<String, Trouble> {
        let token = random_hex::<32>()?;
        let mut all = self.all.clone();
        all.push(Device {
            name: self.free_name(name),
            role,
            digest: digest(token.as_bytes()),
            since: at.strftime("%Y-%m-%d %H:%M").to_string(),
        });
        self.write(all)?;
        Ok(token)
    }

    /// The device that holds this token.
    pub fn of(&self, token: &str) -> Option<&Device> {
        let digest = digest(token.as_bytes());
        self.all.iter().find(|device| device.digest == digest)
    }

    pub fn all(&self) -> &[Device] {
        &self.all
    }

    /// Locks out the device with that digest.
    ///
    /// # Errors
    /// Where the list can't be written.
    pub fn revoke(&mut self, digest: &str) -> Result<(), Trouble> {
        let mut all = self.all.clone();
        all.retain(|device| device.digest != digest);
        self.write(all)
    }

    /// `name`, or with a number behind it where another device has it; `phone` where it is empty.
    fn free_name(&self, name: &str) -> String {
        let plain: String = name.chars().filter(|c| !c.is_control()).take(40).collect();
        let plain = match plain.trim() {
            "" => "phone",
            name => name,
        };
        let taken = |name: &str| self.all.iter().any(|device| device.name == name);
        let numbered = (2..).map(|n| format!("{plain} {n}"));
        std::iter::once(plain.to_string())
            .chain(numbered)
            .find(|name| !taken(name))
            .unwrap_or_default()
    }

    /// Written under another name and renamed, so that the list is whole at any time.
    fn write(&mut self, all: Vec<Device>) -> Result<(), Trouble> {
        let list: Vec<Value> = all
            .iter()
            .map(|d| {
                json!({"name": d.name, "role": d.role.word(), "token_sha256": d.digest, "since": d.since})
            })
            .collect();
        let part = self.path.with_extension("part");
        std::fs::write(&part, format!("{:#}\n", Value::Array(list)))
            .and_then(|()| std::fs::rename(&part, &self.path))
            .map_err(|e| {
                Trouble::new(
                    StatusCode::INTERNAL_SERVER_ERROR,
                    "devices_not_kept",
                    format!("the list of devices could not be written: {e}"),
                    "make room on the disk, and see that the book's folder can be written",
                )
            })?;
        self.all = all;
        Ok(())
    }
}

fn device(value: &Value) -> Option<Device> {
    let text = |key: &str| Some(value.get(key)?.as_str()?.to_string());
    Some(Device {
        name: text("name")?,
        role: Role::from_word(&text("role")?)?,
        digest: text("token_sha256")?,
        since: text("since")?,
    })
}
