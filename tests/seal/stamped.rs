//! Time stamps, given by an authority that the test makes with openssl, and checked by openssl too.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use asfound::evidence::seal::stamp::{self, Reason, Stamp};
use proptest::prelude::*;

use super::{Job, program};

struct Authority {
    home: tempfile::TempDir,
}

impl Authority {
    /// An authority whose stamps are signed by a key of that kind (`openssl req -newkey`).
    fn new(key: &[&str]) -> Self {
        let authority = Self { home: tempfile::tempdir().unwrap() };
        let config = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/seal/authority.cnf");
        fs::copy(config, authority.path("authority.cnf")).unwrap();
        fs::write(authority.path("serial"), "0A\n").unwrap();
        fs::write(authority.path("index"), "").unwrap();
        let request = ["req", "-config", "authority.cnf", "-nodes"];
        let root = [
            "-x509",
            "-newkey",
            "rsa:2048",
            "-keyout",
            "root.key",
            "-out",
            "root.pem",
            "-extensions",
            "root",
            "-days",
            "30",
        ];
        authority.openssl(&[&request[..], &root].concat());
        let own =
            ["-keyout", "stamp.key", "-out", "stamp.csr", "-subj", "/O=Shop, of a test/CN=Stamps", "-newkey"];
        authority.openssl(&[&request[..], &own, key].concat());
        authority.certify("stamping", "stamp.pem");
        authority
    }

    fn path(&self, name: &str) -> PathBuf {
        self.home.path().join(name)
    }

    fn certify(&self, extensions: &str, to: &str) {
        self.openssl(&[
            "x509",
            "-req",
            "-in",
            "stamp.csr",
            "-CA",
            "root.pem",
            "-CAkey",
            "root.key",
            "-CAcreateserial",
            "-days",
            "30",
            "-extfile",
            "authority.cnf",
            "-extensions",
            extensions,
            "-out",
            to,
        ]);
    }

    fn openssl(&self, arguments: &[&str]) -> Output {
        let output = program(self.home.path(), "openssl", arguments, b"");
        assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
        output
    }

    /// A reply for some bytes. `hash` is the one of the bytes, `own` the one of the signature.
    fn stamp(&self, bytes: &[u8], hash: &str, own: &str, certificate: &str, more: &[&str]) -> Vec<u8> {
        fs::write(self.path("data"), bytes).unwrap();
        self.openssl(&[&["ts", "-query", "-data", "data", hash, "-out", "query"][..], more].concat());
        self.openssl(&[
            "ts",
            "-reply",
            "-config",
            "authority.cnf",
            "-section",
            "authority",
            "-queryfile",
            "query",
            "-signer",
            certificate,
            "-inkey",
            "stamp.key",
            own,
            "-out",
            "reply",
        ]);
        fs::read(self.path("reply")).unwrap()
    }

    /// Whether openssl takes the reply for one of the bytes.
    fn verifies(&self, bytes: &[u8], reply: &[u8]) -> bool {
        fs::write(self.path("data"), bytes).unwrap();
        fs::write(self.path("reply"), reply).unwrap();
        let arguments = ["ts", "-verify", "-data", "data", "-in", "reply", "-CAfile", "root.pem"];
        program(self.home.path(), "openssl", &arguments, b"").status.success()
    }
}

const RSA: &[&str] = &["rsa:2048"];
const P256: &[&str] = &["ec", "-pkeyopt", "ec_paramgen_curve:P-256"];
const P384: &[&str] = &["ec", "-pkeyopt", "ec_paramgen_curve:P-384"];
const WITH_CERTIFICATE: &[&str] = &["-cert"];

fn bad(stamp: Stamp) -> Reason {
    match stamp {
        Stamp::Bad(why) => why,
        Stamp::Good(stamped) => panic!("good: {stamped}"),
    }
}

#[test]
fn what_openssl_stamps_is_accepted_with_every_key_and_hash_and_refused_with_any_bit_of_the_seal_changed() {
    let seal = b"# asfound seal 1\n";
    for key in [RSA, P256, P384] {
        let authority = Authority::new(key);
        for (hash, own) in [("-sha256", "-sha512"), ("-sha384", "-sha256"), ("-sha512", "-sha384")] {
            let reply = authority.stamp(seal, hash, own, "stamp.pem", WITH_CERTIFICATE);
            assert!(authority.verifies(seal, &reply));
            let Stamp::Good(stamped) = stamp::check(seal, Ok(reply.clone())) else {
                panic!("{key:?} {hash} {own}: {:?}", stamp::check(seal, Ok(reply)));
            };
            assert_eq!(stamped.policy, "1.2.3.4.1");
            assert_eq!(stamped.signer, "CN=Stamps,O=Shop\\, of a test");
            let text =
                String::from_utf8(authority.openssl(&["ts", "-reply", "-in", "reply", "-text"]).stdout)
                    .unwrap();
            assert!(
                text.contains(&format!("Serial number: 0x{}\n", stamped.serial.to_uppercase())),
                "{text}\n{stamped}"
            );
            // "Time stamp: Nov  7 18:35:35 2026 GMT"
            let shown = text.lines().find_map(|line| line.strip_prefix("Time stamp: ")).unwrap();
            assert!(stamped.moment.contains(shown.split_whitespace().nth(2).unwrap()), "{shown}\n{stamped}");
            for bit in 0..seal.len() * 8 {
                let mut other = seal.to_vec();
                other[bit / 8] ^= 1 << (bit % 8);
                assert_eq!(bad(stamp::check(&other, Ok(reply.clone()))), Reason::OtherBytes);
            }
        }
    }
}

#[test]
fn no_bit_of_a_reply_can_be_changed_so_that_it_says_something_else() {
    let authority = Authority::new(P256);
    let reply = authority.stamp(b"seal", "-sha256", "-sha256", "stamp.pem", WITH_CERTIFICATE);
    let whole = stamp::check(b"seal", Ok(reply.clone()));
    assert!(whole.is_good(), "{whole:?}");
    let mut good = 0;
    for bit in 0..reply.len() * 8 {
        let mut other = reply.clone();
        other[bit / 8] ^= 1 << (bit % 8);
        let found = stamp::check(b"seal", Ok(other));
        if found.is_good() {
            assert_eq!(found, whole, "bit {bit}");
            good += 1;
        }
    }
    // The status's text and the like are signed by nobody; of the rest nothing may differ.
    assert!(good * 50 < reply.len() * 8, "{good} of {}", reply.len() * 8);
    for length in 0..reply.len() {
        assert!(!stamp::check(b"seal", Ok(reply[..length].to_vec())).is_good());
    }
}

#[test]
fn a_certificate_for_something_else_one_out_of_its_time_and_one_that_does_not_travel_are_refused() {
    let authority = Authority::new(P256);
    let reply = authority.stamp(b"seal", "-sha256", "-sha256", "stamp.pem", &[]);
    assert!(
        matches!(bad(stamp::check(b"seal", Ok(reply))), Reason::Form(why) if why.contains("does not travel in it"))
    );

    let elsewhen =
        ["-startdate", "20200101000000Z", "-enddate", "20210101000000Z", "-extensions", "stamping"];
    let issue =
        ["ca", "-config", "authority.cnf", "-batch", "-notext", "-in", "stamp.csr", "-cert", "root.pem"];
    authority.openssl(&[&issue[..], &["-keyfile", "root.key", "-out", "old.pem"], &elsewhen].concat());
    let reply = authority.stamp(b"seal", "-sha256", "-sha256", "old.pem", WITH_CERTIFICATE);
    assert!(!authority.verifies(b"seal", &reply));
    assert_eq!(bad(stamp::check(b"seal", Ok(reply))), Reason::Validity);

    // openssl stamps with no other certificate; what it signs otherwise can be put into a reply by hand. The
    // certificates come first: none is valid before it was made.
    let others = [("stamping", None), ("server", Some(Reason::Purpose)), ("both", Some(Reason::Purpose))];
    for (extensions, _) in &others {
        authority.certify(extensions, &format!("{extensions}.pem"));
    }
    let good = authority.stamp(b"seal", "-sha256", "-sha256", "stamp.pem", WITH_CERTIFICATE);
    assert!(stamp::check(b"seal", Ok(good)).is_good());
    authority.openssl(&["ts", "-reply", "-in", "reply", "-token_out", "-out", "token"]);
    authority.openssl(&["cms", "-verify", "-noverify", "-inform", "DER", "-in", "token", "-out", "info"]);
    for (extensions, wanted) in others {
        authority.openssl(&[
            "cms",
            "-sign",
            "-binary",
            "-nodetach",
            "-cades",
            "-md",
            "sha256",
            "-econtent_type",
            "1.2.840.113549.1.9.16.1.4",
            "-in",
            "info",
            "-signer",
            &format!("{extensions}.pem"),
            "-inkey",
            "stamp.key",
            "-outform",
            "DER",
            "-out",
            "token",
        ]);
        let found = stamp::check(b"seal", Ok(reply_of(&fs::read(authority.path("token")).unwrap())));
        match wanted {
            None => assert!(found.is_good(), "{found:?}"),
            Some(wanted) => assert_eq!(bad(found), wanted),
        }
    }
}

/// A reply, granted, with that token: SEQUENCE { SEQUENCE { INTEGER 0 }, token } (RFC 3161, 2.4.2).
fn reply_of(token: &[u8]) -> Vec<u8> {
    let status = [0x30, 3, 2, 1, 0];
    let length = u16::try_from(status.len() + token.len()).unwrap().to_be_bytes();
    [&[0x30, 0x82], &length[..], &status, token].concat()
}

#[test]
fn a_hash_that_is_broken_is_not_checked_and_a_refusal_is_none() {
    let authority = Authority::new(P256);
    let reply = authority.stamp(b"seal", "-sha1", "-sha256", "stamp.pem", WITH_CERTIFICATE);
    assert!(
        matches!(bad(stamp::check(b"seal", Ok(reply))), Reason::Kind(what) if what.contains("1.3.14.3.2.26"))
    );
    // SHA-1 over the bytes is refused by this authority's rules: status 2, rejection.
    let config = fs::read_to_string(authority.path("authority.cnf")).unwrap();
    fs::write(authority.path("authority.cnf"), config.replace("digests = sha1,", "digests =")).unwrap();
    let reply = authority.stamp(b"seal", "-sha1", "-sha256", "stamp.pem", WITH_CERTIFICATE);
    assert_eq!(bad(stamp::check(b"seal", Ok(reply))), Reason::Refused(2));
}

#[test]
fn moments_with_fractions_and_certificates_named_by_sha_1_are_read() {
    let authority = Authority::new(RSA);
    let config = fs::read_to_string(authority.path("authority.cnf")).unwrap();
    let config = config.replace("$ENV::DIGITS", "3").replace("$ENV::NAMED_BY", "sha1");
    fs::write(authority.path("authority.cnf"), config).unwrap();
    let reply = authority.stamp(b"seal", "-sha256", "-sha256", "stamp.pem", WITH_CERTIFICATE);
    let found = stamp::check(b"seal", Ok(reply));
    let Stamp::Good(stamped) = found else { panic!("{found:?}") };
    let text =
        String::from_utf8(authority.openssl(&["ts", "-reply", "-in", "reply", "-text"]).stdout).unwrap();
    let shown = text.lines().find_map(|line| line.strip_prefix("Time stamp: ")).unwrap();
    assert!(stamped.moment.contains(shown.split_whitespace().nth(2).unwrap()), "{shown}\n{stamped}");
}

#[test]
fn a_stamp_beside_a_seal_is_shown_and_one_of_another_seal_is_pointed_out() {
    let job = Job::new();
    job.sealed(&["as-found"]);
    let authority = Authority::new(P384);
    let seal = job.read("visits/as-found/seal.txt");
    let reply = authority.stamp(seal.as_bytes(), "-sha256", "-sha256", "stamp.pem", WITH_CERTIFICATE);
    fs::write(job.folder.join("visits/as-found/seal.txt.tsr"), &reply).unwrap();
    let (said, err) = job.inspect();
    assert!(
        said.contains("policy 1.2.3.4.1, signed by CN=Stamps,O=Shop\\, of a test; it is good for this seal."),
        "{said}"
    );
    assert!(said.contains("Whether that authority is to be trusted is not judged here"), "{said}");
    assert!(said.contains("openssl ts -verify -data seal.txt -in seal.txt.tsr -CAfile THEIRS.pem"), "{said}");
    assert_eq!(err, "");

    job.write("visits/as-found/seal.txt", &seal.replace("16:20:05", "16:20:06"));
    let (said, err) = job.inspect();
    assert!(
        said.contains("seal.txt.tsr is not good: it was given for other bytes than this seal's."),
        "{said}"
    );
    assert!(err.contains("its time stamp is not good"), "{err}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, ..ProptestConfig::default() })]

    /// A reply of openssl's (3.0.22) for "seal\n", with stretches taken out, doubled or put over others.
    #[test]
    fn a_reply_that_was_mangled_is_refused_without_a_panic(
        cuts in proptest::collection::vec((any::<u16>(), 0usize..40, any::<u16>(), any::<[u8; 3]>()), 1..6),
    ) {
        let whole = include_bytes!("openssl.tsr").to_vec();
        let said = stamp::check(b"seal\n", Ok(whole.clone()));
        prop_assert!(said.is_good());
        let mut bytes = whole;
        for (from, length, to, put) in cuts {
            let from = usize::from(from) % bytes.len();
            let stretch: Vec<u8> = bytes[from..(from + length).min(bytes.len())].to_vec();
            let to = usize::from(to) % bytes.len();
            match put[0] % 3 {
                0 => drop(bytes.splice(to..to, stretch)),
                1 => drop(bytes.splice(from..(from + length).min(bytes.len()), put)),
                _ => bytes[to] = put[1],
            }
            if bytes.is_empty() {
                bytes.push(0);
            }
        }
        let found = stamp::check(b"seal\n", Ok(bytes));
        prop_assert!(!found.is_good() || found == said);
    }
}
