#![allow(clippy::unwrap_used, clippy::panic, clippy::cast_possible_truncation)]

use std::io::Cursor;

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use image::{ImageFormat, Rgb, RgbImage};
use proptest::prelude::*;

use super::*;

fn ascii(text: &str) -> Value {
    Value::Ascii(vec![text.as_bytes().to_vec()])
}

fn degrees(parts: [u32; 3]) -> Value {
    Value::Rational(parts.iter().map(|part| Rational { num: *part, denom: 1 }).collect())
}

/// Exif data as `kamadak-exif` 0.6.2 writes them: when, who, a maker's notes and, where asked, a place.
fn exif_data(with_place: bool) -> Vec<u8> {
    let field = |tag, value| Field { tag, ifd_num: In::PRIMARY, value };
    let mut fields = vec![
        field(Tag::DateTimeOriginal, ascii("2026:03:02 14:41:07")),
        field(Tag::Orientation, Value::Short(vec![6])),
        field(Tag::Artist, ascii("R. Adeyemi")),
    ];
    if with_place {
        fields.push(field(Tag::GPSLatitudeRef, ascii("S")));
        fields.push(field(Tag::GPSLatitude, degrees([12, 30, 18])));
        fields.push(field(Tag::GPSLongitudeRef, ascii("W")));
        fields.push(field(Tag::GPSLongitude, degrees([25, 15, 36])));
        fields.push(field(Tag::MakerNote, Value::Undefined(b"Overwick, 4 Mill Row".to_vec(), 0)));
    }
    let mut writer = Writer::new();
    for field in &fields {
        writer.push_field(field);
    }
    let mut out = Cursor::new(Vec::new());
    writer.write(&mut out, false).unwrap();
    out.into_inner()
}

fn picture(format: ImageFormat) -> Vec<u8> {
    let image = RgbImage::from_fn(24, 16, |x, y| Rgb([x as u8 * 10, y as u8 * 15, 90]));
    let mut out = Cursor::new(Vec::new());
    image.write_to(&mut out, format).unwrap();
    out.into_inner()
}

fn segment(marker: u8, data: &[u8]) -> Vec<u8> {
    let length = u16::try_from(data.len() + 2).unwrap().to_be_bytes();
    [&[0xFF, marker], &length[..], data].concat()
}

/// A JPEG picture with segments behind its first mark.
fn jpeg(segments: &[Vec<u8>]) -> Vec<u8> {
    let plain = picture(ImageFormat::Jpeg);
    [&plain[..2], &segments.concat(), &plain[2..]].concat()
}

fn chunk(name: &[u8], data: &[u8]) -> Vec<u8> {
    let mut sum = crc32fast::Hasher::new();
    sum.update(name);
    sum.update(data);
    let length = u32::try_from(data.len()).unwrap().to_be_bytes();
    [&length[..], name, data, &sum.finalize().to_be_bytes()].concat()
}

/// A PNG picture with chunks behind its head (8 bytes, and IHDR with 25).
fn png(chunks: &[Vec<u8>]) -> Vec<u8> {
    let plain = picture(ImageFormat::Png);
    [&plain[..33], &chunks.concat(), &plain[33..]].concat()
}

fn exif_segment(with_place: bool) -> Vec<u8> {
    segment(0xE1, &[b"Exif\0\0", &exif_data(with_place)[..]].concat())
}

fn without(bytes: &[u8]) -> Vec<u8> {
    match cleaned(bytes, People::Kept) {
        Some(Cleaned::Without(made)) => made,
        other => panic!("{other:?}"),
    }
}

/// Names of what a picture's Exif data hold.
fn tags(bytes: &[u8]) -> Vec<String> {
    let exif = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)).unwrap();
    exif.fields().map(|field| field.tag.to_string()).collect()
}

fn pixels(bytes: &[u8]) -> Option<Vec<u8>> {
    image::load_from_memory(bytes).ok().map(|image| image.to_rgb8().into_raw())
}

#[test]
fn a_position_has_its_signs_from_the_letters_beside_it() {
    let place = position(&jpeg(&[exif_segment(true)])).unwrap();
    assert_eq!(place.to_string(), "12.5050° S, 25.2600° W");
    assert_eq!(position(&png(&[chunk(b"eXIf", &exif_data(true))])), Some(place));
    assert_eq!(position(&jpeg(&[exif_segment(false)])), None);
}

/// piexif 1.1.3 and others write no offset behind a directory that has no next one: values follow at once.
#[test]
fn directories_without_their_last_offset_are_read_and_cleaned() {
    let place = [
        (1_u16, 2_u16, 2_u32, *b"S\0\0\0"),
        (2, 5, 3, [0, 0, 0, 76]),
        (3, 2, 2, *b"W\0\0\0"),
        (4, 5, 3, [0, 0, 0, 100]),
    ];
    let entry = |(tag, kind, count, value): (u16, u16, u32, [u8; 4])| {
        [&tag.to_be_bytes()[..], &kind.to_be_bytes(), &count.to_be_bytes(), &value].concat()
    };
    let mut data =
        [b"MM\0*\0\0\0\x08\0\x01".to_vec(), entry((0x8825, 4, 1, [0, 0, 0, 26])), vec![0; 4]].concat();
    data.extend([0, 4]);
    data.extend(place.map(entry).concat());
    for degrees in [12_u32, 25] {
        data.extend([degrees, 1, 30, 1, 0, 1].map(u32::to_be_bytes).concat());
    }
    let before = jpeg(&[segment(0xE1, &[b"Exif\0\0", &data[..]].concat())]);
    assert_eq!(position(&before).unwrap().to_string(), "12.5000° S, 25.5000° W");
    assert_eq!(position(&without(&before)), None);
}

#[test]
fn a_picture_without_a_position_is_as_it_was() {
    for plain in
        [jpeg(&[]), jpeg(&[exif_segment(false)]), png(&[]), png(&[chunk(b"eXIf", &exif_data(false))])]
    {
        assert_eq!(cleaned(&plain, People::Kept), Some(Cleaned::AsItWas));
    }
    assert_eq!(cleaned(b"title: a saw", People::Kept), None);
}

#[test]
fn the_place_goes_and_the_date_the_turn_and_every_byte_of_the_picture_stay() {
    let before = jpeg(&[exif_segment(true)]);
    let after = without(&before);
    assert_eq!(before.len(), after.len());
    let start = 2 + exif_segment(true).len();
    assert_eq!(before[start..], after[start..], "behind the Exif data nothing changes");
    assert_eq!(tags(&after), ["Orientation", "Artist", "DateTimeOriginal"]);
    assert!(!after.windows(8).any(|window| window == b"Overwick"), "the maker's notes are blank");
    let before = png(&[chunk(b"eXIf", &exif_data(true))]);
    let after = without(&before);
    assert_eq!(tags(&after), ["Orientation", "Artist", "DateTimeOriginal"]);
    assert_eq!(pixels(&before), pixels(&after));
}

#[test]
fn names_and_free_texts_go_too_where_people_are_to_be_left_out() {
    let before = jpeg(&[exif_segment(true), segment(0xFE, b"by R. Adeyemi")]);
    let Some(Cleaned::Without(after)) = cleaned(&before, People::LeftOut) else { panic!() };
    assert_eq!(tags(&after), ["Orientation", "DateTimeOriginal"]);
    assert!(!after.windows(7).any(|window| window == b"Adeyemi"));
    assert!(without(&before).windows(7).any(|window| window == b"Adeyemi"));
}

#[test]
fn xmp_iptc_and_what_hangs_behind_the_end_go_with_the_place_and_colours_stay() {
    let xmp = |text: &str| segment(0xE1, &[b"http://ns.adobe.com/xap/1.0/\0", text.as_bytes()].concat());
    let profile = segment(0xE2, b"ICC_PROFILE\0\x01\x01abc");
    let plain = jpeg(&[xmp("<x:xmpmeta><rdf:li>rating 5</rdf:li>"), profile.clone()]);
    assert_eq!(cleaned(&plain, People::Kept), Some(Cleaned::AsItWas));
    let more = segment(0xE1, b"http://ns.adobe.com/xmp/extension/\0half a GP");
    for dropped in [
        vec![xmp("<exif:GPSLatitude>12,30S")],
        vec![xmp("<photoshop:City>Overwick")],
        vec![xmp("half of a packet"), more],
        vec![segment(0xED, b"Photoshop 3.0\08BIM\x04\x04\0\0\0\0\0\x0e\x1c\x02Z\0\x08Overwick")],
        vec![segment(0xE5, b"a maker's own")],
        vec![segment(0xE2, b"MPF\0")],
    ] {
        let before = jpeg(&[dropped, vec![profile.clone()]].concat());
        assert_eq!(without(&before), jpeg(std::slice::from_ref(&profile)), "only that goes");
    }
    let behind = [jpeg(&[]), jpeg(&[exif_segment(true)])].concat();
    assert_eq!(without(&behind), jpeg(&[]));
}

#[test]
fn texts_of_a_png_that_speak_of_a_place_go_and_others_stay() {
    let plain = png(&[chunk(b"tEXt", b"Comment\0a cross on the floor"), chunk(b"pHYs", &[0; 9])]);
    assert_eq!(cleaned(&plain, People::Kept), Some(Cleaned::AsItWas));
    for dropped in [
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0<exif:GPSLatitude>12,30S"),
        chunk(b"iTXt", b"XML:com.adobe.xmp\0\x01\0\0\0compressed"),
        chunk(b"tEXt", b"exif:GPSLatitude\0" as &[u8]),
        chunk(b"zTXt", b"Raw profile type exif\0\0x"),
        chunk(b"prVt", b"nobody knows"),
    ] {
        assert_eq!(without(&png(&[dropped])), png(&[]));
    }
}

#[test]
fn exif_data_that_break_their_rules_go_whole_and_so_does_all_beside_the_picture() {
    let mut broken = exif_data(true);
    // The first directory lies behind the end.
    broken[4..8].copy_from_slice(&u32::MAX.to_be_bytes());
    let segments = [segment(0xE1, &[b"Exif\0\0", &broken[..]].concat()), segment(0xFE, b"a remark")];
    assert_eq!(cleaned(&jpeg(&segments), People::Kept), Some(Cleaned::Bare(jpeg(&[]))));
}

#[test]
fn kinds_that_are_not_looked_into_must_not_be_published() {
    for bytes in [&b"II*\0...."[..], b"\0\0\0\x18ftypheic", b"RIFF....WEBPVP8 ", b"\xFF\xD8\xFF\xE1\0"] {
        assert_eq!(cleaned(bytes, People::Kept), Some(Cleaned::Unsafe), "{bytes:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// Whatever becomes of the bytes of a file, what is published has no position that a reader finds, is the same when
    /// it is cleaned again, and shows the same picture.
    #[test]
    fn no_change_of_bytes_lets_a_position_through(
        is_png: bool,
        changes in prop::collection::vec((0_usize..700, any::<u8>(), 0_usize..4), 0..6),
    ) {
        let mut bytes = if is_png {
            png(&[chunk(b"eXIf", &exif_data(true)), chunk(b"tEXt", b"Comment\0a")])
        } else {
            jpeg(&[exif_segment(true), segment(0xFE, b"a")])
        };
        for (at, byte, how) in changes {
            let at = at % bytes.len();
            match how {
                0 => bytes[at] = byte,
                1 => bytes[at] ^= 1 << (byte % 8),
                2 => bytes.insert(at, byte),
                _ => { bytes.remove(at); }
            }
        }
        match cleaned(&bytes, People::Kept) {
            None | Some(Cleaned::Unsafe) => {}
            Some(Cleaned::AsItWas) => prop_assert_eq!(position(&bytes), None),
            Some(Cleaned::Without(made) | Cleaned::Bare(made)) => {
                prop_assert_eq!(position(&made), None);
                prop_assert_eq!(cleaned(&made, People::Kept), Some(Cleaned::AsItWas));
                if let Some(before) = pixels(&bytes) {
                    prop_assert_eq!(Some(before), pixels(&made));
                }
            }
        }
    }

    #[test]
    fn any_bytes_are_taken(bytes in prop::collection::vec(any::<u8>(), 0..300), head in 0_usize..5) {
        let heads: [&[u8]; 5] = [b"", b"\xFF\xD8", b"\xFF\xD8\xFF\xE1\0\x40Exif\0\0MM\0*", b"\x89PNG\r\n\x1a\n", b"II*\0"];
        let _ = cleaned(&[heads[head], &bytes].concat(), People::LeftOut);
    }
}
