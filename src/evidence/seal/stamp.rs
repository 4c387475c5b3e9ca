//! Time stamps of RFC 3161: a reply that an authority gave elsewhere, checked without a network. Whether the
//! authority is to be trusted, nobody here judges: its certificate is taken as it travels in the reply.

mod asn1;
mod certificate;
mod token;

use std::fmt;

/// A larger file is no time stamp.
pub const MOST_BYTES: u64 = 256 << 10;

/// What was found of a time stamp.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stamp {
    /// It is one for the seal as it is.
    Good(Stamped),
    /// It is not good. Why.
    Bad(Reason),
}

/// What a time stamp says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamped {
    /// When, in UTC, with as many digits as the authority gave: `2026-03-02T21:20:05.25Z`.
    pub moment: String,
    /// The policy's object identifier.
    pub policy: String,
    /// The stamp's number, in hexadecimal digits.
    pub serial: String,
    /// Whom the signing certificate names (RFC 4514).
    pub signer: String,
}

/// Why a time stamp is not good.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Reason {
    /// It cannot be read at all.
    #[error("it is no time stamp reply: {0}")]
    Unreadable(String),
    /// The authority did not give one (RFC 3161, 2.4.2).
    #[error("the authority refused: status {0}")]
    Refused(u8),
    /// A part of it is not as RFC 3161 has it.
    #[error("{0}")]
    Form(&'static str),
    /// It is for other bytes.
    #[error("it was given for other bytes than this seal's")]
    OtherBytes,
    /// A hash, a signature or a key of a kind that is not checked.
    #[error("{0} is not checked by this program")]
    Kind(String),
    /// The signature does not fit.
    #[error("its signature is not good")]
    Signature,
    /// The certificate may not do this.
    #[error("its certificate is not one for time stamps")]
    Purpose,
    /// The certificate was not valid then.
    #[error("its certificate was not valid at that moment")]
    Validity,
}

impl Stamp {
    /// Whether it is one for the seal as it is.
    pub fn is_good(&self) -> bool {
        matches!(self, Self::Good(_))
    }
}

impl fmt::Display for Stamped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { moment, policy, serial, signer } = self;
        write!(f, "{moment}, number 0x{serial}, policy {policy}, signed by {signer}")
    }
}

/// Checks a reply for some bytes.
pub fn check(bytes: &[u8], read: Result<Vec<u8>, String>) -> Stamp {
    let found = read.map_err(Reason::Unreadable).and_then(|reply| token::stamped(bytes, &reply));
    found.map_or_else(Stamp::Bad, Stamp::Good)
}
