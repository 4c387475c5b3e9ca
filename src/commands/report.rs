//! (being laid)
use super::Outcome;
use std::io::Write;
use std::path::PathBuf;
/// x
#[derive(Debug)]
pub struct BuildError;
/// x
#[derive(Debug)]
pub struct Built;
/// x
pub fn build() {}
pub(super) struct Options {
    pub out: PathBuf,
    pub templates: Option<PathBuf>,
    pub source: bool,
    pub quiet: bool,
}
pub(super) fn run(_: &[PathBuf], _: &Options, _: &mut dyn Write, _: &mut dyn Write) -> Outcome {
    Outcome::Done
}
