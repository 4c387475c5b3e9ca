//! session.yaml and a visit.yaml, whatever stands in them: from the bytes to the findings.

use super::analysed;

/// Tries what a fuzzer wrote.
pub fn run(bytes: &[u8]) {
    // The two files are parted by a byte that no text has.
    let mut parts = bytes.splitn(2, |byte| *byte == 0xff);
    let session = parts.next().unwrap_or_default();
    let visit = parts.next().unwrap_or_default();
    analysed(&[("session.yaml", session), ("visits/v/visit.yaml", visit)]);
}
