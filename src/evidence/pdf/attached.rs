//! The files attached to a PDF (ISO 32000-1, 7.11.4 and 7.9.6).

use std::collections::BTreeMap;
use std::io::Read;

use flate2::read::ZlibDecoder;
use hayro_syntax::Pdf;
use hayro_syntax::object::{Array, Dict, Object, Stream, String as Text};

use super::{Attached, PdfReadError};

/// More nodes than this are no tree of names.
const MOST_NODES: usize = 20_000;
/// One attached file.
const MOST_FILE: u64 = 256 << 20;
/// All of them.
const MOST_TOGETHER: u64 = 512 << 20;

/// What is attached, by name.
pub(super) fn attached(pdf: &Pdf) -> Result<Vec<Attached>, PdfReadError> {
    let xref = pdf.xref();
    let catalog: Dict<'_> = xref.get(xref.root_id()).ok_or(PdfReadError::Broken)?;
    let tree = catalog.get::<Dict<'_>>("Names").and_then(|names| names.get::<Dict<'_>>("EmbeddedFiles"));
    let mut files = BTreeMap::new();
    let mut waiting: Vec<Dict<'_>> = tree.into_iter().collect();
    let (mut nodes, mut room) = (0, MOST_TOGETHER);
    while let Some(node) = waiting.pop() {
        nodes += 1;
        if nodes > MOST_NODES {
            return Err(PdfReadError::Broken);
        }
        if let Some(kids) = node.get::<Array<'_>>("Kids") {
            waiting.extend(kids.iter::<Dict<'_>>());
        }
        let Some(names) = node.get::<Array<'_>>("Names") else { continue };
        let mut objects = names.iter::<Object<'_>>();
        while let (Some(_), Some(spec)) = (objects.next(), objects.next()) {
            let Some(spec) = spec.into_dict() else { return Err(PdfReadError::Broken) };
            let file = file(&spec, &mut room)?;
            let name = file.name.clone();
            if files.insert(file.name.clone(), file).is_some() {
                return Err(PdfReadError::Twice(name));
            }
            nodes += 1;
            if nodes > MOST_NODES {
                return Err(PdfReadError::Broken);
            }
        }
    }
    Ok(files.into_values().collect())
}

fn file(spec: &Dict<'_>, room: &mut u64) -> Result<Attached, PdfReadError> {
    let name =
        spec.get::<Text<'_>>("UF").or_else(|| spec.get::<Text<'_>>("F")).ok_or(PdfReadError::Broken)?;
    let name = text(name.as_bytes());
    let broken = || PdfReadError::Attached(name.clone());
    let stream: Stream<'_> =
        spec.get::<Dict<'_>>("EF").and_then(|ef| ef.get("UF").or_else(|| ef.get("F"))).ok_or_else(broken)?;
    let raw = stream.raw_data();
    let most = MOST_FILE.min(*room);
    let bytes = match stream.filters().len() {
        0 => raw.into_owned(),
        1 => {
            let mut bytes = Vec::new();
            let mut decoder = ZlibDecoder::new(&*raw).take(most + 1);
            decoder.read_to_end(&mut bytes).map_err(|_| broken())?;
            bytes
        }
        _ => return Err(broken()),
    };
    if bytes.len() as u64 > most {
        return Err(PdfReadError::Bomb { most: MOST_TOGETHER });
    }
    *room -= bytes.len() as u64;
    Ok(Attached { name, bytes })
}

/// A text string (7.9.2.2): UTF-16 with its mark, UTF-8 with its mark, else taken as Latin letters, which `PDFDocEncoding` is
/// wherever a report has any.
pub(super) fn text(bytes: &[u8]) -> String {
    match bytes {
        [0xFE, 0xFF, rest @ ..] => {
            let (pairs, _) = rest.as_chunks::<2>();
            let units = pairs.iter().map(|pair| u16::from_be_bytes(*pair));
            char::decode_utf16(units).map(|letter| letter.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
        }
        [0xEF, 0xBB, 0xBF, rest @ ..] => String::from_utf8_lossy(rest).into_owned(),
        _ => bytes.iter().copied().map(char::from).collect(),
    }
}
