//! Files made of parts, each with a name, a length and perhaps a check sum: taken apart, changed, and put together so that
//! the lengths and sums are right again. Without this nearly every change would be caught on the outermost layer.

use super::bytes;
use super::draw::Draw;
use super::picture::png_check_sum;

/// How the parts of a file stand in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Container {
    /// Segments of JPEG [ITU-T81] annex B.
    Jpeg,
    /// Chunks of PNG (ISO/IEC 15948).
    Png,
    /// Chunks of RIFF, as WebP has them.
    Riff,
    /// Boxes of ISO/IEC 14496-12, as HEIC has them; those in `meta` one level deep.
    Boxes,
}

/// A part: its name (marker, four letters) and what belongs to it.
#[derive(Debug, Clone)]
struct Part {
    name: Vec<u8>,
    content: Vec<u8>,
}

/// `file` with its parts, or bytes in them, changed in one place.
pub fn change(draw: &mut Draw, container: Container, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    let mut parts = take_apart(container, file);
    if parts.is_empty() {
        let mut file = file.to_vec();
        bytes::change(draw, &mut file, others);
        return file;
    }
    let at = draw.below(parts.len());
    match draw.below(10) {
        0 => {
            parts.remove(at);
        }
        1 => {
            let copy = parts[at].clone();
            parts.insert(draw.below(parts.len() + 1), copy);
        }
        2 => {
            let to = draw.below(parts.len());
            parts.swap(at, to);
        }
        3 => {
            let other: &Vec<u8> = draw.pick(others);
            let theirs = take_apart(container, other);
            if !theirs.is_empty() {
                let part = draw.pick(&theirs).clone();
                parts.insert(draw.below(parts.len() + 1), part);
            }
        }
        4 => {
            let other = draw.below(parts.len());
            parts[at].name = parts[other].name.clone();
        }
        _ => {
            let pieces: Vec<Vec<u8>> = vec![parts[draw.below(parts.len())].content.clone()];
            bytes::change(draw, &mut parts[at].content, &pieces);
        }
    }
    let mut file = put_together(container, &parts);
    file.truncate(bytes::MOST_BYTES);
    file
}

fn take_apart(container: Container, file: &[u8]) -> Vec<Part> {
    match container {
        Container::Jpeg => jpeg_parts(file),
        Container::Png => png_parts(file),
        Container::Riff => riff_parts(file),
        Container::Boxes => boxes(file),
    }
}

fn put_together(container: Container, parts: &[Part]) -> Vec<u8> {
    match container {
        Container::Jpeg => jpeg_file(parts),
        Container::Png => png_file(parts),
        Container::Riff => riff_file(parts),
        Container::Boxes => parts.iter().flat_map(box_bytes).collect(),
    }
}

/// The big-endian number in the four bytes at `at`.
fn long(file: &[u8], at: usize) -> Option<usize> {
    Some(u32::from_be_bytes(*file.get(at..)?.first_chunk()?) as usize)
}

/// Segments with their content; coded data belong to a part without length, named by nothing.
fn jpeg_parts(file: &[u8]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut at = 2;
    while let Some(&[0xFF, marker, high, low]) = file.get(at..at + 4) {
        let length = usize::from(u16::from_be_bytes([high, low])).max(2);
        let end = (at + 2 + length).min(file.len());
        parts.push(Part {
            name: vec![0xFF, marker],
            content: file[(at + 4).min(end)..end].to_vec(),
        });
        at = end;
        if marker == 0xDA {
            let coded = file[at..]
                .windows(2)
                .position(|w| w[0] == 0xFF && w[1] != 0 && !(0xD0..=0xD7).contains(&w[1]));
            let end = coded.map_or(file.len(), |length| at + length);
            parts.push(Part {
                name: Vec::new(),
                content: file[at..end].to_vec(),
            });
            at = end;
        }
    }
    parts
}

fn jpeg_file(parts: &[Part]) -> Vec<u8> {
    let mut file = vec![0xFF, 0xD8];
    for part in parts {
        file.extend(&part.name);
        if !part.name.is_empty() {
            file.extend((part.content.len() as u16).wrapping_add(2).to_be_bytes());
        }
        file.extend(&part.content);
    }
    file.extend([0xFF, 0xD9]);
    file
}

const PNG_HEAD: &[u8] = b"\x89PNG\r\n\x1a\n";

fn png_parts(file: &[u8]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut at = PNG_HEAD.len();
    while let (Some(length), Some(name)) = (long(file, at), file.get(at + 4..at + 8)) {
        let from = at + 8;
        let end = from.saturating_add(length).min(file.len());
        parts.push(Part {
            name: name.to_vec(),
            content: file[from..end].to_vec(),
        });
        at = end + 4;
    }
    parts
}

fn png_file(parts: &[Part]) -> Vec<u8> {
    let mut file = PNG_HEAD.to_vec();
    for part in parts {
        file.extend((part.content.len() as u32).to_be_bytes());
        let named = [part.name.as_slice(), &part.content].concat();
        file.extend(&named);
        file.extend(png_check_sum(&named).to_be_bytes());
    }
    file
}

fn riff_parts(file: &[u8]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut at = 12;
    while let Some(head) = file.get(at..at + 8) {
        let length = u32::from_le_bytes([head[4], head[5], head[6], head[7]]) as usize;
        let end = (at + 8).saturating_add(length).min(file.len());
        parts.push(Part {
            name: head[..4].to_vec(),
            content: file[at + 8..end].to_vec(),
        });
        at = end + length % 2;
    }
    parts
}

fn riff_file(parts: &[Part]) -> Vec<u8> {
    let mut file = b"RIFF\0\0\0\0WEBP".to_vec();
    for part in parts {
        file.extend(&part.name);
        file.extend((part.content.len() as u32).to_le_bytes());
        file.extend(&part.content);
        file.resize(file.len() + part.content.len() % 2, 0);
    }
    let length = (file.len() - 8) as u32;
    file[4..8].copy_from_slice(&length.to_le_bytes());
    file
}

fn boxes(file: &[u8]) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut at = 0;
    while let (Some(length), Some(name)) = (long(file, at), file.get(at + 4..at + 8)) {
        let end = at.saturating_add(length.max(8)).min(file.len());
        parts.push(Part {
            name: name.to_vec(),
            content: file[at + 8..end].to_vec(),
        });
        at = end;
    }
    parts
}

fn box_bytes(part: &Part) -> Vec<u8> {
    let length = (part.content.len() + 8) as u32;
    [&length.to_be_bytes()[..], &part.name, &part.content].concat()
}

/// A HEIC file in which a box inside `meta`, or inside its `iprp`, is changed and all lengths around it are set right.
/// Places of data behind the box move, so its length is kept most of the time.
pub fn change_inner_box(draw: &mut Draw, file: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    let mut outer = boxes(file);
    let Some(meta) = outer.iter_mut().find(|part| part.name == b"meta") else {
        return change(draw, Container::Boxes, file, others);
    };
    // `meta` has four bytes of version and flags before its boxes.
    let head = meta.content.get(..4).unwrap_or_default().to_vec();
    let mut inner = boxes(meta.content.get(4..).unwrap_or_default());
    if inner.is_empty() {
        return change(draw, Container::Boxes, file, others);
    }
    let at = draw.below(inner.len());
    let part = &mut inner[at];
    let length = part.content.len();
    if part.name == b"iprp" && draw.once_in(2) {
        part.content = change_properties(draw, &part.content, others);
    } else {
        bytes::change(draw, &mut part.content, others);
    }
    if !draw.once_in(4) {
        part.content.resize(length, 0);
    }
    let inner: Vec<u8> = inner.iter().flat_map(box_bytes).collect();
    meta.content = [head, inner].concat();
    let mut file: Vec<u8> = outer.iter().flat_map(box_bytes).collect();
    file.truncate(bytes::MOST_BYTES);
    file
}

/// The content of an `iprp` box with a property, or a list of them, changed.
fn change_properties(draw: &mut Draw, content: &[u8], others: &[Vec<u8>]) -> Vec<u8> {
    let mut parts = boxes(content);
    if let Some(list) = parts.first_mut() {
        let mut properties = boxes(&list.content);
        if !properties.is_empty() {
            let at = draw.below(properties.len());
            bytes::change(draw, &mut properties[at].content, others);
            list.content = properties.iter().flat_map(box_bytes).collect();
        }
    }
    parts.iter().flat_map(box_bytes).collect()
}
