//! From the bytes of a reply to what it says, or why it is not good.

use cms::signed_data::{SignedData, SignerInfo};
use der::asn1::{Any, ObjectIdentifier, OctetString};
use der::{Decode, Encode, Tag, Tagged};
use sha1::{Digest, Sha1};
use x509_cert::Certificate;

use super::asn1::{
    CONTENT_TYPE, MESSAGE_DIGEST, SIGNED_DATA, SIGNING_CERTIFICATE, SIGNING_CERTIFICATE_V2,
    SigningCertificate, SigningCertificateV2, TST_INFO, TimeStampResp, TstInfo,
};
use super::certificate::{self, Hash};
use super::{Reason, Stamped};
use crate::findings::claim::words::shortened;
use crate::session::{Date, Time};

/// A longer name of a signer is cut where it is shown.
const LONGEST_NAME: usize = 160;
/// Bytes of a stamp's number: 160 bits and a sign (RFC 3161, 2.4.2).
const LONGEST_NUMBER: usize = 21;

/// What a reply says, where it is good for the bytes (RFC 3161, 2.4.2; RFC 5652, 5).
pub(super) fn stamped(bytes: &[u8], reply: &[u8]) -> Result<Stamped, Reason> {
    let unreadable = |error: der::Error| Reason::Unreadable(error.to_string());
    let reply = TimeStampResp::from_der(reply).map_err(unreadable)?;
    // Granted, and granted with changes.
    if reply.status.status > 1 {
        return Err(Reason::Refused(reply.status.status));
    }
    let token = reply.token.ok_or(Reason::Form("no time stamp is in the reply"))?;
    if token.content_type != SIGNED_DATA {
        return Err(Reason::Form("what is in the reply is not signed"));
    }
    let data: SignedData = token.content.decode_as().map_err(unreadable)?;
    if data.encap_content_info.econtent_type != TST_INFO {
        return Err(Reason::Form("what is signed is no time stamp"));
    }
    let content = data.encap_content_info.econtent.as_ref().ok_or(Reason::Form("the time stamp is empty"))?;
    let content: OctetString = content.decode_as().map_err(unreadable)?;
    let info = TstInfo::from_der(content.as_bytes()).map_err(unreadable)?;
    if info.serial.as_bytes().len() > LONGEST_NUMBER {
        return Err(Reason::Form("its number is longer than RFC 3161 has it"));
    }
    if info.version != 1 {
        return Err(Reason::Form("it is of a later version of RFC 3161"));
    }
    let imprint = Hash::named(info.imprint.algorithm.oid)?;
    if imprint.of(bytes) != info.imprint.hash.as_bytes() {
        return Err(Reason::OtherBytes);
    }
    let mut signers = data.signer_infos.0.iter();
    let (Some(signer), None) = (signers.next(), signers.next()) else {
        return Err(Reason::Form("it is not signed by one authority alone"));
    };
    let certificate = certificate::of_signer(&data, signer)?;
    signed(signer, certificate, content.as_bytes())?;
    if !certificate::may_stamp(certificate) {
        return Err(Reason::Purpose);
    }
    let (moment, seconds) = moment(&info.moment).ok_or(Reason::Form("its moment cannot be read"))?;
    if !certificate::was_valid(certificate, seconds) {
        return Err(Reason::Validity);
    }
    Ok(Stamped {
        moment,
        policy: info.policy.to_string(),
        serial: crate::evidence::hex(info.serial.as_bytes()),
        signer: shortened(&certificate.tbs_certificate().subject().to_string(), LONGEST_NAME),
    })
}

/// Whether the signature over the attributes holds, and the attributes name content and certificate.
fn signed(signer: &SignerInfo, certificate: &Certificate, content: &[u8]) -> Result<(), Reason> {
    let digest = Hash::named(signer.digest_alg.oid)?;
    let kind: ObjectIdentifier = attribute(signer, CONTENT_TYPE)
        .and_then(|value| value.decode_as().ok())
        .ok_or(Reason::Form("its signature does not say what is signed"))?;
    let hash: OctetString = attribute(signer, MESSAGE_DIGEST)
        .and_then(|value| value.decode_as().ok())
        .ok_or(Reason::Form("its signature does not hold the hash of what is signed"))?;
    if kind != TST_INFO || hash.as_bytes() != digest.of(content) {
        return Err(Reason::Signature);
    }
    if !names(signer, certificate)? {
        return Err(Reason::Form("its signature names another certificate"));
    }
    let attributes = signer.signed_attrs.as_ref().and_then(|attributes| attributes.to_der().ok());
    let attributes = attributes.ok_or(Reason::Form("its signature holds no attributes"))?;
    certificate::verify(certificate, signer, digest, &attributes)
}

/// The one value of an attribute that stands there once.
fn attribute(signer: &SignerInfo, oid: ObjectIdentifier) -> Option<&Any> {
    let mut found = signer.signed_attrs.as_ref()?.iter().filter(|attribute| attribute.oid == oid);
    let (only, None) = (found.next()?, found.next()) else { return None };
    let mut values = only.values.iter();
    let (value, None) = (values.next()?, values.next()) else { return None };
    Some(value)
}

/// Whether the signature names the certificate by its hash (RFC 5816; RFC 3161, 2.4.2, for SHA-1).
fn names(signer: &SignerInfo, certificate: &Certificate) -> Result<bool, Reason> {
    let form = Reason::Form("its signature does not name the certificate as it should");
    let der = certificate.to_der().map_err(|_| form.clone())?;
    if let Some(value) = attribute(signer, SIGNING_CERTIFICATE_V2) {
        let named: SigningCertificateV2 = value.decode_as().map_err(|_| form.clone())?;
        let first = named.certificates.first().ok_or(form)?;
        let hash = match &first.algorithm {
            Some(algorithm) => Hash::named(algorithm.oid)?,
            None => Hash::Sha256,
        };
        return Ok(hash.of(&der) == first.hash.as_bytes());
    }
    let value = attribute(signer, SIGNING_CERTIFICATE).ok_or(form.clone())?;
    let named: SigningCertificate = value.decode_as().map_err(|_| form.clone())?;
    let first = named.certificates.first().ok_or(form)?;
    Ok(Sha1::digest(&der).as_slice() == first.hash.as_bytes())
}

/// `GeneralizedTime` in UTC, with fractions of a second (RFC 3161, 2.4.2), as RFC 3339 writes it; and its seconds
/// since 1970.
fn moment(any: &Any) -> Option<(String, i64)> {
    let text = std::str::from_utf8(any.value()).ok().filter(|_| any.tag() == Tag::GeneralizedTime)?;
    let (whole, fraction) = match text.strip_suffix('Z')?.split_once('.') {
        Some((whole, fraction)) => (whole, fraction),
        None => (text.strip_suffix('Z')?, ""),
    };
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if whole.len() != 14 || !digits(whole) || !digits(fraction) || fraction.len() > 9 {
        return None;
    }
    let number = |from: usize, length: usize| whole.get(from..from + length)?.parse::<i16>().ok();
    let small = |from: usize| i8::try_from(number(from, 2)?).ok();
    let date = Date::new(number(0, 4)?, small(4)?, small(6)?).ok()?;
    // Certificates are valid for whole seconds; a leap second counts as the one before it.
    let second = small(12).filter(|second| *second <= 60)?.min(59);
    let time = Time::new(small(8)?, small(10)?, second, 0).ok()?;
    let seconds =
        date.to_datetime(time).to_zoned_datetime(jiff::tz::TimeZone::UTC).ok()?.timestamp().as_second();
    let fraction = if fraction.is_empty() { String::new() } else { format!(".{fraction}") };
    let time = format!("{}:{}:{}", &whole[8..10], &whole[10..12], &whole[12..14]);
    Some((format!("{date}T{time}{fraction}Z"), seconds))
}
