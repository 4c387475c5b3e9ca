//! Packs the fonts, which would else be an eighth of the program, and the list of places that the loader fills in (the ELF
//! extension RELR, from glibc 2.36 on), which would be a twentieth.

use std::error::Error;
use std::fs;
use std::io::Write as _;
use std::path::Path;

use flate2::Compression;
use flate2::write::ZlibEncoder;

const FONTS: &str = "templates/fonts";

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed={FONTS}");
    pack_fonts(Path::new(&std::env::var("OUT_DIR")?))?;
    let target = |what: &str| std::env::var(format!("CARGO_CFG_TARGET_{what}")).unwrap_or_default();
    if target("OS") == "linux" && target("ENV") == "gnu" {
        println!("cargo::rustc-link-arg-bins=-Wl,-z,pack-relative-relocs");
    }
    Ok(())
}

/// Writes every font, packed with zlib, under its own name.
fn pack_fonts(out: &Path) -> Result<(), Box<dyn Error>> {
    for entry in fs::read_dir(FONTS)? {
        let path = entry?.path();
        let is_font = path.extension().is_some_and(|kind| kind == "ttf" || kind == "otf");
        let (true, Some(name)) = (is_font, path.file_name()) else { continue };
        let mut packer = ZlibEncoder::new(Vec::new(), Compression::best());
        packer.write_all(&fs::read(&path)?)?;
        fs::write(out.join(name), packer.finish()?)?;
    }
    Ok(())
}
