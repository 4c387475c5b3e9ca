//! What lies packed in the program and is unpacked once, when it is first asked for: the fonts (`build.rs` packs them) and
//! the texts of licences.

use std::io::Read as _;
use std::sync::LazyLock;

use flate2::read::ZlibDecoder;

/// A file that is unpacked when it is first read.
pub(crate) type Packed = LazyLock<Vec<u8>>;

/// Unpacks a file. What cannot be unpacked has no bytes, and whoever needs it says that it is missing.
pub(crate) fn whole(packed: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    if ZlibDecoder::new(packed).read_to_end(&mut bytes).is_err() {
        bytes.clear();
    }
    bytes
}

/// A font of `templates/fonts`, as a [`Packed`].
macro_rules! font {
    ($name:literal) => {
        std::sync::LazyLock::new(|| {
            $crate::packed::whole(include_bytes!(concat!(env!("OUT_DIR"), "/", $name)))
        })
    };
}
pub(crate) use font;
