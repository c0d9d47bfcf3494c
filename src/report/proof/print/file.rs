//! Sheets, fonts and photo as one file.

use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

use super::face::Face;
use super::picture::PHOTO;
use super::sheets::{FONTS, PAPER, SEE_THROUGH, Sheets};
use crate::error::Error;
use crate::photo::embed::{Embedded, Picture};

/// How hard streams are packed, 0 to 10.
const PACKING: u8 = 6;
/// How much of a see-through plate hides what lies under it, as on the page.
const OPACITY: f32 = 0.85;
/// Letters are addressed by the numbers of their glyphs [PDF17] 9.7.5.2.
const INFO: SystemInfo = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};
/// Vertical stems of these fonts, thousandths of an em (a hint for viewers that lack the font; a usual value, from memory).
const STEM: f32 = 80.0;

/// Numbers of objects, given out in order.
struct Numbers(i32);

impl Numbers {
    fn next(&mut self) -> Ref {
        self.0 += 1;
        Ref::new(self.0)
    }
}

/// The file.
///
/// # Errors
/// Where a font can't be cut down or the foot's letters are lacking, which points to a fault of the program.
pub(super) fn written(
    title: &str,
    program: &str,
    sheets: Sheets,
    photo: Embedded,
) -> Result<Vec<u8>, Error> {
    let (pages, faces) = sheets.finished(title)?;
    let mut numbers = Numbers(0);
    let mut pdf = Pdf::new();
    pdf.set_version(1, 7);
    let (catalog, tree, info) = (numbers.next(), numbers.next(), numbers.next());
    let mut root = pdf.catalog(catalog);
    root.pages(tree).lang(TextStr("en"));
    root.viewer_preferences().display_doc_title(true);
    root.finish();
    let made = format!("catchcup {program}");
    pdf.document_info(info)
        .title(TextStr(title))
        .producer(TextStr(&made));
    let mut fonts = Vec::new();
    for face in &faces {
        fonts.push(font(&mut pdf, face, &mut numbers)?);
    }
    let picture = picture(&mut pdf, photo, &mut numbers);
    let see_through = numbers.next();
    pdf.ext_graphics(see_through).non_stroking_alpha(OPACITY);
    let mut kids = Vec::new();
    for content in &pages {
        let (page, stream) = (numbers.next(), numbers.next());
        kids.push(page);
        let mut sheet = pdf.page(page);
        sheet
            .media_box(Rect::new(0.0, 0.0, PAPER[0], PAPER[1]))
            .parent(tree)
            .contents(stream);
        let mut resources = sheet.resources();
        let mut named = resources.fonts();
        for (name, font) in FONTS.iter().zip(&fonts) {
            named.pair(Name(name), *font);
        }
        named.finish();
        resources.x_objects().pair(Name(PHOTO), picture);
        resources
            .ext_g_states()
            .pair(Name(SEE_THROUGH), see_through);
        resources.finish();
        sheet.finish();
        packed(&mut pdf, stream, content);
    }
    let count = i32::try_from(kids.len()).unwrap_or(i32::MAX);
    pdf.pages(tree).kids(kids).count(count);
    Ok(pdf.finish())
}

fn packed(pdf: &mut Pdf, id: Ref, bytes: &[u8]) {
    let packed = compress_to_vec_zlib(bytes, PACKING);
    pdf.stream(id, &packed).filter(Filter::FlateDecode);
}

/// A font cut down to what was used of it, with the letters that its glyphs stand for, so that text can be copied.
fn font(pdf: &mut Pdf, face: &Face, numbers: &mut Numbers) -> Result<Ref, Error> {
    let [whole, part, descriptor, map, data] = std::array::from_fn(|_| numbers.next());
    // Six letters of ours mark a part of a font [PDF17] 9.6.4.
    let name = format!("CATCHC+{}", face.name);
    let name = Name(name.as_bytes());
    pdf.type0_font(whole)
        .base_font(name)
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(part)
        .to_unicode(map);
    let mut cid = pdf.cid_font(part);
    cid.subtype(CidFontType::Type2)
        .base_font(name)
        .system_info(INFO)
        .font_descriptor(descriptor)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    cid.widths().consecutive(0, face.widths());
    cid.finish();
    let [above, below] = face.reach();
    pdf.font_descriptor(descriptor)
        .name(name)
        .flags(FontFlags::SYMBOLIC)
        // Wide enough for any letter of a font of this kind.
        .bbox(Rect::new(-1000.0, below, 3000.0, above))
        .italic_angle(0.0)
        .ascent(above)
        .descent(below)
        .cap_height(above)
        .stem_v(STEM)
        .font_file2(data);
    let mut letters = UnicodeCmap::<u16>::new(Name(b"Custom"), INFO);
    for (glyph, letter) in &face.letters {
        letters.pair(*glyph, *letter);
    }
    packed(pdf, map, &letters.finish());
    let cut = subsetter::subset(face.data, 0, &face.used)
        .map_err(|e| Error::bug(format!("the font {} can't be cut down: {e}", face.name)))?;
    packed(pdf, data, &cut);
    Ok(whole)
}

fn picture(pdf: &mut Pdf, photo: Embedded, numbers: &mut Numbers) -> Ref {
    let (id, profile) = (numbers.next(), numbers.next());
    let side = |side: usize| i32::try_from(side).unwrap_or(i32::MAX);
    let (bytes, filter, icc) = match photo.picture {
        Picture::Jpeg { bytes, icc } => (bytes, Filter::DctDecode, icc),
        Picture::Rgb(pixels) => (
            compress_to_vec_zlib(&pixels, PACKING),
            Filter::FlateDecode,
            None,
        ),
    };
    let mut image = pdf.image_xobject(id, &bytes);
    image.filter(filter);
    image
        .width(side(photo.size.0))
        .height(side(photo.size.1))
        .bits_per_component(8);
    match icc {
        Some(_) => image.color_space().icc_based(profile),
        None => image.color_space().device_rgb(),
    }
    image.finish();
    if let Some(icc) = icc {
        let packed = compress_to_vec_zlib(&icc, PACKING);
        let mut stream = pdf.icc_profile(profile, &packed);
        stream.n(3);
        stream.alternate().device_rgb();
        stream.filter(Filter::FlateDecode);
    }
    id
}
