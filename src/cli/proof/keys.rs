//! The house's key on disk: made on first use, readable by its owner only, replaced in good order.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Result;
use catchcup::doubt::quoted;
use catchcup::error::Error;
use catchcup::proof::canonical::{Canon, Members, read_canonical};
use catchcup::proof::key::{Handover, HouseKey, Why, bytes_of, hex};
use serde_json::json;

use crate::cli::book::now;
use crate::cli::house::settings_folder;
use crate::cli::output::Out;
use crate::cli::proof_args::{KeyCommand, KeysArgs};

/// The secret.
const SECRET: &str = "house.key";
/// Fingerprints of all keys the house ever had, one a line: a lost key must not be replaced by a new one unnoticed.
const KNOWN: &str = "house-keys.txt";
/// Kind and version of the secret's file.
const KIND: &str = "catchcup.key/1";

/// Shows the key's fingerprint, or replaces the key.
///
/// # Errors
/// Where the key can't be read or written.
pub fn run(args: &KeysArgs, command: Option<&KeyCommand>, out: &mut Out) -> Result<u8> {
    let folder = folder(args.keys.as_deref())?;
    match command {
        None => {
            let (key, made) = key(&folder)?;
            let print = key.public().fingerprint();
            if args.json {
                out.line(
                    &json!({"schema": "catchcup.key_shown/1", "fingerprint": print, "made": made})
                        .to_string(),
                )?;
                return Ok(0);
            }
            if made {
                out.line("A new key was made. Keep a copy of the folder where nobody else reads:")?;
                out.line(&format!("  {}", folder.display()))?;
            }
            out.line(&format!("Fingerprint of your key: {print}"))?;
            out.line(
                "Tell it to buyers by another way than the page: on the phone, on your packing",
            )?;
            out.line("slip, on a sign at your stand.")?;
        }
        Some(KeyCommand::Replace {
            handover,
            leaked,
            lost,
        }) => replace(&folder, handover.as_deref(), *leaked, *lost, args.json, out)?,
    }
    Ok(0)
}

/// The folder of the house's key.
///
/// # Errors
/// Where none is named and there is no settings folder.
pub fn folder(said: Option<&Path>) -> Result<PathBuf, Error> {
    said.map(Path::to_path_buf)
        .or_else(settings_folder)
        .ok_or_else(|| {
            Error::rules(
                "no_folder",
                "there is no settings folder on this computer",
                "name a folder for the key: --keys DIR",
            )
        })
}

/// The house's key, and true where it was made just now.
///
/// # Errors
/// Where it can't be read, others can read it, or it is missing although there was one.
pub fn key(folder: &Path) -> Result<(HouseKey, bool), Error> {
    let path = folder.join(SECRET);
    if path.exists() {
        return Ok((read(&path)?, false));
    }
    if let Some(print) = known(folder).last() {
        return Err(Error::rules(
            "key_missing",
            format!("the house's key {print} is not in {}", folder.display()),
            "put your copy of house.key back; where there is none: catchcup proof key replace --lost",
        ));
    }
    Ok((create(folder, SECRET)?, true))
}

fn known(folder: &Path) -> Vec<String> {
    let text = fs::read_to_string(folder.join(KNOWN)).unwrap_or_default();
    text.lines().map(str::to_string).collect()
}

fn read(path: &Path) -> Result<HouseKey, Error> {
    let name = path.display().to_string();
    for_owner_only(path, &name)?;
    let bytes = fs::read(path).map_err(|e| Error::io(&name, &e))?;
    let secret = || -> Result<[u8; 32], String> {
        let mut members = Members::of("the key", read_canonical(bytes.trim_ascii_end())?)?;
        let kind = members.text("schema")?;
        let secret = members.text("secret")?;
        if kind != KIND {
            return Err(format!("it is of kind {kind}"));
        }
        bytes_of(&secret).ok_or("the secret is none".into())
    };
    secret().map(|s| HouseKey::from_secret(&s)).map_err(|why| {
        Error::rules(
            "key",
            format!("{name} is no key: {why}"),
            "put your copy of house.key back",
        )
    })
}

#[cfg(unix)]
fn for_owner_only(path: &Path, name: &str) -> Result<(), Error> {
    use std::os::unix::fs::PermissionsExt;
    let mode = fs::metadata(path)
        .map_err(|e| Error::io(name, &e))?
        .permissions()
        .mode();
    if mode & 0o077 == 0 {
        return Ok(());
    }
    Err(Error::rules(
        "key_open",
        format!("others on this computer can read {name}"),
        format!(
            "chmod 600 {}; if others were there, replace the key: catchcup proof key replace --leaked HANDOVER.json",
            quoted(name)
        ),
    ))
}

/// Elsewhere the settings folder is the user's own by the system's rules.
#[cfg(not(unix))]
fn for_owner_only(_: &Path, _: &str) -> Result<(), Error> {
    Ok(())
}

/// A new key in a file of its own, noted among the known ones.
fn create(folder: &Path, file: &str) -> Result<HouseKey, Error> {
    let shown = folder.display().to_string();
    fs::create_dir_all(folder).map_err(|e| Error::io(&shown, &e))?;
    let mut secret = [0; 32];
    getrandom::fill(&mut secret).map_err(|e| {
        Error::rules(
            "no_randomness",
            format!("the system gives no randomness: {e}"),
            "try again after a restart of the computer",
        )
    })?;
    let text = Canon::object([
        ("schema", Canon::text(KIND)),
        ("secret", Canon::text(hex(&secret))),
    ])
    .write()
        + "\n";
    let path = folder.join(file);
    let name = path.display().to_string();
    let mut new = fs::OpenOptions::new();
    new.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut new, 0o600);
    let mut out = new.open(&path).map_err(|e| Error::io(&name, &e))?;
    out.write_all(text.as_bytes())
        .and_then(|()| out.sync_all())
        .map_err(|e| Error::io(&name, &e))?;
    let key = HouseKey::from_secret(&secret);
    let list = folder.join(KNOWN);
    let mut known = fs::OpenOptions::new()
        .append(true)
        .create(true)
        .open(&list)
        .map_err(|e| Error::io(&list.display().to_string(), &e))?;
    writeln!(known, "{}", key.public().fingerprint())
        .map_err(|e| Error::io(&list.display().to_string(), &e))?;
    Ok(key)
}

fn replace(
    folder: &Path,
    handover: Option<&Path>,
    leaked: bool,
    lost: bool,
    json: bool,
    out: &mut Out,
) -> Result<()> {
    let path = folder.join(SECRET);
    if lost {
        if path.exists() {
            return Err(Error::rules(
                "key_there",
                format!("the key is not lost, it is in {}", folder.display()),
                "replace it in good order: catchcup proof key replace HANDOVER.json",
            )
            .into());
        }
        let new = create(folder, SECRET)?;
        return tell(
            &new,
            "Pages signed before stay as good as they were, but no handover vouches for the new key: tell its fingerprint to your buyers as you told the old one.",
            json,
            out,
        );
    }
    let old = read(&path)?;
    let Some(file) = handover else { return Ok(()) };
    let next = "house.key.next";
    let _ = fs::remove_file(folder.join(next));
    let new = create(folder, next)?;
    let why = if leaked { Why::Leaked } else { Why::Order };
    let letter = Handover {
        old: old.public(),
        new: new.public(),
        on: now().date(),
        why,
    };
    let name = file.display().to_string();
    let mut letter_file = fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(file)
        .map_err(|e| Error::io(&name, &e))?;
    letter_file
        .write_all(letter.write(&old, &new).as_bytes())
        .map_err(|e| Error::io(&name, &e))?;
    // The new key takes its place only when the handover is written: before that nothing has changed.
    fs::rename(folder.join(next), &path).map_err(|e| Error::io(&path.display().to_string(), &e))?;
    tell(
        &new,
        &format!(
            "Send {name} to your buyers: who knows the old fingerprint can check pages of the new key with it."
        ),
        json,
        out,
    )
}

fn tell(key: &HouseKey, what: &str, json: bool, out: &mut Out) -> Result<()> {
    let print = key.public().fingerprint();
    if json {
        out.line(
            &json!({"schema": "catchcup.key_shown/1", "fingerprint": print, "made": true})
                .to_string(),
        )?;
        return Ok(());
    }
    out.line(&format!("Fingerprint of your new key: {print}"))?;
    out.lines(&catchcup::report::book::sentences(&[what.to_string()], ""))?;
    Ok(())
}
