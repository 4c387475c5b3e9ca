//! The structures of RFC 3161 that `cms` does not have, and the names of what is asked for in them.

use cms::content_info::ContentInfo;
use der::Sequence;
use der::asn1::{Any, BitString, Int, ObjectIdentifier, OctetString};
use x509_cert::ext::Extensions;
use x509_cert::spki::AlgorithmIdentifierOwned;

const fn oid(text: &str) -> ObjectIdentifier {
    ObjectIdentifier::new_unwrap(text)
}

/// RFC 5652, 5.1.
pub(super) const SIGNED_DATA: ObjectIdentifier = oid("1.2.840.113549.1.7.2");
/// RFC 3161, 2.4.2.
pub(super) const TST_INFO: ObjectIdentifier = oid("1.2.840.113549.1.9.16.1.4");
/// RFC 5652, 11.1.
pub(super) const CONTENT_TYPE: ObjectIdentifier = oid("1.2.840.113549.1.9.3");
/// RFC 5652, 11.2.
pub(super) const MESSAGE_DIGEST: ObjectIdentifier = oid("1.2.840.113549.1.9.4");
/// RFC 2634, 5.4.
pub(super) const SIGNING_CERTIFICATE: ObjectIdentifier = oid("1.2.840.113549.1.9.16.2.12");
/// RFC 5035, 3.
pub(super) const SIGNING_CERTIFICATE_V2: ObjectIdentifier = oid("1.2.840.113549.1.9.16.2.47");
/// RFC 5280, 4.2.1.12.
pub(super) const EXTENDED_KEY_USAGE: ObjectIdentifier = oid("2.5.29.37");
/// RFC 5280, 4.2.1.2.
pub(super) const SUBJECT_KEY_IDENTIFIER: ObjectIdentifier = oid("2.5.29.14");
/// RFC 3161, 2.3.
pub(super) const TIME_STAMPING: ObjectIdentifier = oid("1.3.6.1.5.5.7.3.8");
/// RFC 5754, 2.
pub(super) const SHA256: ObjectIdentifier = oid("2.16.840.1.101.3.4.2.1");
/// RFC 5754, 2.
pub(super) const SHA384: ObjectIdentifier = oid("2.16.840.1.101.3.4.2.2");
/// RFC 5754, 2.
pub(super) const SHA512: ObjectIdentifier = oid("2.16.840.1.101.3.4.2.3");
/// RFC 8017, appendix A.
pub(super) const RSA: ObjectIdentifier = oid("1.2.840.113549.1.1.1");
/// RFC 8017, appendix A: `sha256WithRSAEncryption`.
pub(super) const RSA_SHA256: ObjectIdentifier = oid("1.2.840.113549.1.1.11");
/// RFC 8017, appendix A.
pub(super) const RSA_SHA384: ObjectIdentifier = oid("1.2.840.113549.1.1.12");
/// RFC 8017, appendix A.
pub(super) const RSA_SHA512: ObjectIdentifier = oid("1.2.840.113549.1.1.13");
/// RFC 5480, 2.1.1.
pub(super) const EC: ObjectIdentifier = oid("1.2.840.10045.2.1");
/// RFC 5480, 2.1.1.1: secp256r1.
pub(super) const P256: ObjectIdentifier = oid("1.2.840.10045.3.1.7");
/// RFC 5480, 2.1.1.1: secp384r1.
pub(super) const P384: ObjectIdentifier = oid("1.3.132.0.34");
/// RFC 5758, 3.2: `ecdsa-with-SHA256`.
pub(super) const ECDSA_SHA256: ObjectIdentifier = oid("1.2.840.10045.4.3.2");
/// RFC 5758, 3.2.
pub(super) const ECDSA_SHA384: ObjectIdentifier = oid("1.2.840.10045.4.3.3");
/// RFC 5758, 3.2.
pub(super) const ECDSA_SHA512: ObjectIdentifier = oid("1.2.840.10045.4.3.4");

/// RFC 3161, 2.4.2.
#[derive(Clone, Debug, Sequence)]
pub(super) struct TimeStampResp {
    pub(super) status: PkiStatusInfo,
    #[asn1(optional = "true")]
    pub(super) token: Option<ContentInfo>,
}

/// RFC 3161, 2.4.2.
#[derive(Clone, Debug, Sequence)]
pub(super) struct PkiStatusInfo {
    pub(super) status: u8,
    #[asn1(optional = "true")]
    pub(super) text: Option<Vec<String>>,
    #[asn1(optional = "true")]
    pub(super) failure: Option<BitString>,
}

/// RFC 3161, 2.4.2.
#[derive(Clone, Debug, Sequence)]
pub(super) struct TstInfo {
    pub(super) version: u8,
    pub(super) policy: ObjectIdentifier,
    pub(super) imprint: MessageImprint,
    pub(super) serial: Int,
    /// `GeneralizedTime`, which may have fractions of a second here.
    pub(super) moment: Any,
    #[asn1(optional = "true")]
    pub(super) accuracy: Option<Accuracy>,
    #[asn1(default = "Default::default")]
    pub(super) ordering: bool,
    #[asn1(optional = "true")]
    pub(super) nonce: Option<Int>,
    #[asn1(context_specific = "0", tag_mode = "EXPLICIT", optional = "true")]
    pub(super) authority: Option<Any>,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", constructed = "true", optional = "true")]
    pub(super) extensions: Option<Extensions>,
}

/// RFC 3161, 2.4.1.
#[derive(Clone, Debug, Sequence)]
pub(super) struct MessageImprint {
    pub(super) algorithm: AlgorithmIdentifierOwned,
    pub(super) hash: OctetString,
}

/// RFC 3161, 2.4.2.
#[derive(Clone, Debug, Sequence)]
pub(super) struct Accuracy {
    #[asn1(optional = "true")]
    pub(super) seconds: Option<u32>,
    #[asn1(context_specific = "0", tag_mode = "IMPLICIT", optional = "true")]
    pub(super) milliseconds: Option<u16>,
    #[asn1(context_specific = "1", tag_mode = "IMPLICIT", optional = "true")]
    pub(super) microseconds: Option<u16>,
}

/// RFC 2634, 5.4.
#[derive(Clone, Debug, Sequence)]
pub(super) struct SigningCertificate {
    pub(super) certificates: Vec<EssCertId>,
    #[asn1(optional = "true")]
    pub(super) policies: Option<Vec<Any>>,
}

/// RFC 2634, 5.4.1.
#[derive(Clone, Debug, Sequence)]
pub(super) struct EssCertId {
    pub(super) hash: OctetString,
    #[asn1(optional = "true")]
    pub(super) issuer: Option<IssuerSerial>,
}

/// RFC 5035, 3.
#[derive(Clone, Debug, Sequence)]
pub(super) struct SigningCertificateV2 {
    pub(super) certificates: Vec<EssCertIdV2>,
    #[asn1(optional = "true")]
    pub(super) policies: Option<Vec<Any>>,
}

/// RFC 5035, 4. Without an algorithm it is SHA-256.
#[derive(Clone, Debug, Sequence)]
pub(super) struct EssCertIdV2 {
    #[asn1(optional = "true")]
    pub(super) algorithm: Option<AlgorithmIdentifierOwned>,
    pub(super) hash: OctetString,
    #[asn1(optional = "true")]
    pub(super) issuer: Option<IssuerSerial>,
}

/// RFC 5035, 5. The hash says which certificate it is; this need not.
#[derive(Clone, Debug, Sequence)]
pub(super) struct IssuerSerial {
    pub(super) issuer: Vec<Any>,
    pub(super) serial: Int,
}
