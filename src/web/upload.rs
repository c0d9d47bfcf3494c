//! A form with photos, read piece by piece: everything is checked before anything is kept.

use std::collections::HashMap;
use std::time::Duration;

use axum::extract::Multipart;
use axum::http::{HeaderMap, StatusCode, header};
use tokio::sync::Semaphore;

use super::access::Visitor;
use super::trouble::Trouble;

/// Largest photo, bytes: a photo of 50 megapixels at best quality is about 25 MB.
pub const MOST_PHOTO: usize = 40 << 20;
/// Largest form with photos, bytes.
pub const MOST_FORM: usize = 100 << 20;
/// Photos in one form.
const MOST_PHOTOS: usize = 8;
/// A form that takes longer was broken off.
const PATIENCE: Duration = Duration::from_secs(180);
/// Kilobytes of all forms being read at once.
const ROOM_KB: u32 = 400 << 10;

/// Memory for all forms being read.
static BEING_READ: Semaphore = Semaphore::const_new(ROOM_KB as usize);

/// A photo as it was sent.
#[derive(Debug)]
pub struct Sent {
    /// File name without folders.
    pub name: String,
    pub bytes: Vec<u8>,
}

/// A form with photos.
#[derive(Debug, Default)]
pub struct PhotoForm {
    pub fields: HashMap<String, String>,
    pub photos: Vec<Sent>,
}

/// Reads the form of a paired device.
///
/// # Errors
/// Where it is foreign, too large, broken off, or holds no photo.
pub async fn read(
    form: Multipart,
    headers: &HeaderMap,
    visitor: &Visitor,
) -> Result<PhotoForm, Trouble> {
    let length = length(headers)?;
    let kilobytes = u32::try_from(length / 1024 + 1).unwrap_or(u32::MAX);
    let _room = tokio::time::timeout(PATIENCE, BEING_READ.acquire_many(kilobytes.min(ROOM_KB)))
        .await
        .map_err(|_| busy())?;
    match tokio::time::timeout(PATIENCE, pieces(form, visitor)).await {
        Ok(form) => form,
        Err(_) => Err(broken_off("it took longer than three minutes")),
    }
}

/// The body of a program's request, a photo alone.
///
/// # Errors
/// Where it is too large or broken off.
pub async fn plain(body: axum::body::Body, headers: &HeaderMap) -> Result<Vec<u8>, Trouble> {
    let length = length(headers)?;
    if length > MOST_PHOTO {
        return Err(too_large());
    }
    let kilobytes = u32::try_from(length / 1024 + 1).unwrap_or(u32::MAX);
    let _room = tokio::time::timeout(PATIENCE, BEING_READ.acquire_many(kilobytes.min(ROOM_KB)))
        .await
        .map_err(|_| busy())?;
    let read = tokio::time::timeout(PATIENCE, axum::body::to_bytes(body, MOST_PHOTO));
    match read.await {
        Ok(Ok(bytes)) => Ok(bytes.to_vec()),
        Ok(Err(_)) => Err(broken_off("it is not whole")),
        Err(_) => Err(broken_off("it took longer than three minutes")),
    }
}

fn length(headers: &HeaderMap) -> Result<usize, Trouble> {
    let length = headers.get(header::CONTENT_LENGTH);
    let length = length.and_then(|length| length.to_str().ok()?.parse().ok());
    match length {
        Some(length) if length <= MOST_FORM => Ok(length),
        Some(_) => Err(too_large()),
        None => Err(Trouble::new(
            StatusCode::LENGTH_REQUIRED,
            "no_length",
            "the form does not say how large it is",
            "send it with a browser",
        )),
    }
}

async fn pieces(mut form: Multipart, visitor: &Visitor) -> Result<PhotoForm, Trouble> {
    let mut read = PhotoForm::default();
    while let Some(mut piece) = form.next_field().await.map_err(|e| unread(&e))? {
        let field = piece.name().unwrap_or_default().to_string();
        if field == "photo" {
            // The form's key stands before the photos, so that nothing large is read from a foreign form.
            visitor.check_form(read.fields.get("key").map(String::as_str))?;
            let name = plain_name(piece.file_name().unwrap_or_default());
            let mut bytes = Vec::new();
            while let Some(chunk) = piece.chunk().await.map_err(|e| unread(&e))? {
                if bytes.len() + chunk.len() > MOST_PHOTO {
                    return Err(too_large());
                }
                bytes.extend_from_slice(&chunk);
            }
            // A browser sends an unused field for photos as an empty one without a name.
            if !(bytes.is_empty() && name.is_empty()) {
                read.photos.push(Sent { name, bytes });
            }
            if read.photos.len() > MOST_PHOTOS {
                return Err(too_many());
            }
        } else if read.fields.len() < 20 {
            let text = piece.text().await.map_err(|e| unread(&e))?;
            read.fields.insert(field, text.chars().take(1000).collect());
        }
    }
    visitor.check_form(read.fields.get("key").map(String::as_str))?;
    if read.photos.is_empty() {
        return Err(Trouble::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "no_photo",
            "no photo was sent",
            "take or choose a photo, then send",
        ));
    }
    Ok(read)
}

/// The name without folders and control characters, at most 100 characters.
pub fn plain_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let letters: Vec<char> = last.chars().filter(|c| !c.is_control()).collect();
    let from = letters.len().saturating_sub(100);
    letters[from..].iter().collect()
}

fn unread(error: &axum::extract::multipart::MultipartError) -> Trouble {
    match error.status() {
        StatusCode::PAYLOAD_TOO_LARGE => too_large(),
        _ => broken_off("the form is not whole"),
    }
}

fn broken_off(why: &str) -> Trouble {
    Trouble::new(
        StatusCode::BAD_REQUEST,
        "broken_off",
        format!("the photo did not arrive: {why}; nothing was filed"),
        "go nearer to the router and send it again",
    )
}

fn too_large() -> Trouble {
    Trouble::new(
        StatusCode::PAYLOAD_TOO_LARGE,
        "too_large",
        format!(
            "the photo is larger than {} MB, or all together than {} MB; nothing was filed",
            MOST_PHOTO >> 20,
            MOST_FORM >> 20
        ),
        "send it as JPEG or HEIC as the phone makes it, fewer at once",
    )
}

fn too_many() -> Trouble {
    Trouble::new(
        StatusCode::PAYLOAD_TOO_LARGE,
        "too_many",
        format!("more than {MOST_PHOTOS} photos of one scoop; nothing was filed"),
        "two or three photos of a scoop are enough",
    )
}

fn busy() -> Trouble {
    Trouble::new(
        StatusCode::SERVICE_UNAVAILABLE,
        "busy",
        "too many photos are being sent at this moment; nothing was filed",
        "send it again in a minute",
    )
}

#[cfg(test)]
mod tests {
    use super::plain_name;

    #[test]
    fn names_lose_their_folders() {
        assert_eq!(plain_name("../../etc/passwd"), "passwd");
        assert_eq!(plain_name("C:\\photos\\a b.jpg"), "a b.jpg");
        assert_eq!(plain_name("a\u{0}\nb.jpg"), "ab.jpg");
        assert_eq!(plain_name(&"x".repeat(300)).len(), 100);
        assert_eq!(
            plain_name(".."),
            "..",
            "a name alone is never used as a path"
        );
    }
}
