//! The description of the interface in the form of the OpenAPI specification 3.1: paths from a file, shapes from the
//! schemas that the commands are held to.

use catchcup::error::Error;
use catchcup::report::{BOOK_SCHEMA, TRENDS_SCHEMA};
use serde_json::Value;

const PATHS: &str = include_str!("openapi.json");

/// The whole document.
///
/// # Errors
/// Never for the files this program is built with.
pub fn document() -> Result<String, Error> {
    let read = |text: &str| -> Result<Value, Error> {
        serde_json::from_str(text).map_err(|_| Error::bug("a schema of the program can't be read"))
    };
    let mut whole = read(PATHS)?;
    for (prefix, schema) in [("book", BOOK_SCHEMA), ("trends", TRENDS_SCHEMA)] {
        let schema = read(schema)?;
        let shapes = schema["$defs"].as_object().into_iter().flatten();
        for (name, shape) in shapes {
            let mut shape = shape.clone();
            renamed(&mut shape, prefix);
            whole["components"]["schemas"][format!("{prefix}_{name}")] = shape;
        }
    }
    Ok(whole.to_string())
}

/// Points every reference to where the shape stands in the document.
fn renamed(value: &mut Value, prefix: &str) {
    match value {
        Value::Object(members) => {
            for (key, member) in members {
                match member.as_str().and_then(|to| to.strip_prefix("#/$defs/")) {
                    Some(name) if key == "$ref" => {
                        *member = format!("#/components/schemas/{prefix}_{name}").into();
                    }
                    _ => renamed(member, prefix),
                }
            }
        }
        Value::Array(all) => all.iter_mut().for_each(|one| renamed(one, prefix)),
        _ => {}
    }
}
