//! The certificate that travels in a reply: which one it is, what it may do, and its key.

use cms::cert::CertificateChoices;
use cms::signed_data::{SignedData, SignerIdentifier, SignerInfo};
use der::asn1::{ObjectIdentifier, OctetString};
use der::{Decode, Encode};
use p256::ecdsa::signature::hazmat::PrehashVerifier;
use rsa::pkcs8::DecodePublicKey;
use sha2::{Digest, Sha256, Sha384, Sha512};
use x509_cert::Certificate;

use super::Reason;
use super::asn1::{
    EC, ECDSA_SHA256, ECDSA_SHA384, ECDSA_SHA512, EXTENDED_KEY_USAGE, P256, P384, RSA, RSA_SHA256,
    RSA_SHA384, RSA_SHA512, SHA256, SHA384, SHA512, SUBJECT_KEY_IDENTIFIER, TIME_STAMPING,
};

/// A hash that is known here.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Hash {
    Sha256,
    Sha384,
    Sha512,
}

impl Hash {
    pub(super) fn named(oid: ObjectIdentifier) -> Result<Self, Reason> {
        match oid {
            SHA256 => Ok(Self::Sha256),
            SHA384 => Ok(Self::Sha384),
            SHA512 => Ok(Self::Sha512),
            other => Err(Reason::Kind(format!("the hash {other}"))),
        }
    }

    pub(super) fn of(self, bytes: &[u8]) -> Vec<u8> {
        match self {
            Self::Sha256 => Sha256::digest(bytes).to_vec(),
            Self::Sha384 => Sha384::digest(bytes).to_vec(),
            Self::Sha512 => Sha512::digest(bytes).to_vec(),
        }
    }
}

/// The certificate of whoever signed.
pub(super) fn of_signer<'a>(data: &'a SignedData, signer: &SignerInfo) -> Result<&'a Certificate, Reason> {
    let certificates = data.certificates.as_ref().map(|set| set.0.iter()).into_iter().flatten();
    certificates
        .filter_map(|choice| match choice {
            CertificateChoices::Certificate(certificate) => Some(certificate),
            CertificateChoices::Other(_) => None,
        })
        .find(|certificate| is_meant(certificate, &signer.sid))
        .ok_or(Reason::Form(
            "the signer's certificate does not travel in it (ask for it: openssl ts -query -cert)",
        ))
}

fn is_meant(certificate: &Certificate, named: &SignerIdentifier) -> bool {
    let inner = certificate.tbs_certificate();
    match named {
        SignerIdentifier::IssuerAndSerialNumber(named) => {
            *inner.issuer() == named.issuer && *inner.serial_number() == named.serial_number
        }
        SignerIdentifier::SubjectKeyIdentifier(named) => extension(certificate, SUBJECT_KEY_IDENTIFIER)
            .and_then(|(_, value)| OctetString::from_der(value).ok())
            .is_some_and(|own| own == named.0),
    }
}

/// Whether an extension is critical, and its value.
fn extension(certificate: &Certificate, oid: ObjectIdentifier) -> Option<(bool, &[u8])> {
    let extensions = certificate.tbs_certificate().extensions()?;
    let found = extensions.iter().find(|extension| extension.extn_id == oid)?;
    Some((found.critical, found.extn_value.as_bytes()))
}

/// Whether it may stamp and do nothing else, as RFC 3161, 2.3, has it.
pub(super) fn may_stamp(certificate: &Certificate) -> bool {
    extension(certificate, EXTENDED_KEY_USAGE).is_some_and(|(critical, value)| {
        critical && Vec::<ObjectIdentifier>::from_der(value).is_ok_and(|uses| uses == [TIME_STAMPING])
    })
}

/// Whether it was valid at a moment, in seconds since 1970.
pub(super) fn was_valid(certificate: &Certificate, seconds: i64) -> bool {
    let validity = certificate.tbs_certificate().validity();
    let from = i64::try_from(validity.not_before.to_unix_duration().as_secs()).unwrap_or(i64::MAX);
    let until = i64::try_from(validity.not_after.to_unix_duration().as_secs()).unwrap_or(i64::MAX);
    (from..=until).contains(&seconds)
}

/// Whether a signature of some bytes is that of the certificate's key. `digest` is what the signer says to have
/// hashed with.
pub(super) fn verify(
    certificate: &Certificate,
    signer: &SignerInfo,
    digest: Hash,
    bytes: &[u8],
) -> Result<(), Reason> {
    let unreadable = |_| Reason::Form("the key of its certificate cannot be read");
    let info = certificate.tbs_certificate().subject_public_key_info();
    let key = info.to_der().map_err(|_| Reason::Form("the key of its certificate cannot be read"))?;
    let signature = signer.signature.as_bytes();
    let named = signer.signature_algorithm.oid;
    let (family, hash) = match named {
        RSA => (RSA, digest),
        RSA_SHA256 => (RSA, Hash::Sha256),
        RSA_SHA384 => (RSA, Hash::Sha384),
        RSA_SHA512 => (RSA, Hash::Sha512),
        ECDSA_SHA256 => (EC, Hash::Sha256),
        ECDSA_SHA384 => (EC, Hash::Sha384),
        ECDSA_SHA512 => (EC, Hash::Sha512),
        other => return Err(Reason::Kind(format!("the signature {other}"))),
    };
    if info.algorithm.oid != family {
        return Err(Reason::Kind(format!("the key {}", info.algorithm.oid)));
    }
    let hashed = hash.of(bytes);
    let good = if family == RSA {
        let key = rsa::PublicKey::from_public_key_der(&key).map_err(unreadable)?;
        by_rsa(key, hash, &hashed, signature)
    } else {
        let curve = info.algorithm.parameters.as_ref().and_then(|any| any.decode_as().ok());
        match curve {
            Some(P256) => {
                let key = p256::ecdsa::VerifyingKey::from_public_key_der(&key).map_err(unreadable)?;
                p256::ecdsa::DerSignature::try_from(signature)
                    .is_ok_and(|signature| key.verify_prehash(&hashed, &signature).is_ok())
            }
            Some(P384) => {
                let key = p384::ecdsa::VerifyingKey::from_public_key_der(&key).map_err(unreadable)?;
                p384::ecdsa::DerSignature::try_from(signature)
                    .is_ok_and(|signature| key.verify_prehash(&hashed, &signature).is_ok())
            }
            Some(other) => return Err(Reason::Kind(format!("the curve {other}"))),
            None => return Err(Reason::Form("the key of its certificate names no curve")),
        }
    };
    if good { Ok(()) } else { Err(Reason::Signature) }
}

/// PKCS#1 v1.5 (RFC 8017, 8.2). A public operation: nothing secret is touched.
fn by_rsa(key: rsa::PublicKey, hash: Hash, hashed: &[u8], signature: &[u8]) -> bool {
    use rsa::pkcs1v15::{Signature, VerifyingKey};
    let Ok(signature) = Signature::try_from(signature) else { return false };
    match hash {
        Hash::Sha256 => VerifyingKey::<Sha256>::new(key).verify_prehash(hashed, &signature).is_ok(),
        Hash::Sha384 => VerifyingKey::<Sha384>::new(key).verify_prehash(hashed, &signature).is_ok(),
        Hash::Sha512 => VerifyingKey::<Sha512>::new(key).verify_prehash(hashed, &signature).is_ok(),
    }
}
