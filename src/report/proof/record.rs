//! What the page needs of a record.

use serde_json::Value;

use crate::error::Error;
use crate::report::wire::stored::{StoredScoop, stored_scoops};
use crate::scoop::KeptAnimal;

/// The record of a proof: its animals, and the setting as it stands there.
pub(super) struct Shown {
    pub scoop: StoredScoop,
    pub value: Value,
}

/// The one record in `text`.
pub(super) fn read(text: &str) -> Result<Shown, Error> {
    let no_record = |why: String| {
        let hint = "ask the seller for the whole folder again";
        Error::photo("record", format!("record.json: {why}"), hint)
    };
    let mut scoops = stored_scoops("record.json", text)?;
    let value = serde_json::from_str(text).map_err(|e| no_record(e.to_string()))?;
    match (scoops.pop(), scoops.is_empty()) {
        (Some(scoop), true) => Ok(Shown { scoop, value }),
        _ => Err(no_record("one record was expected".into())),
    }
}

/// The animals of the one record in `text`.
pub(super) fn kept_animals(text: &str) -> Result<Vec<KeptAnimal>, Error> {
    Ok(read(text)?.scoop.kept_animals())
}

impl Shown {
    /// The number at a path, where there is one.
    pub(super) fn number(&self, path: &str) -> Option<f64> {
        self.value.pointer(path)?.as_f64()
    }

    /// The words at a path, where there are some.
    pub(super) fn text(&self, path: &str) -> Option<&str> {
        self.value.pointer(path)?.as_str()
    }

    /// Messages of the doubts of the photo.
    pub(super) fn doubts(&self) -> Vec<String> {
        let doubts = self.value.pointer("/doubts").and_then(Value::as_array);
        let message = |doubt: &Value| Some(doubt.get("message")?.as_str()?.to_string());
        doubts.map_or(Vec::new(), |all| all.iter().filter_map(message).collect())
    }
}
