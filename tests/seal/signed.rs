//! Signatures, against OpenSSH's own.

use std::fs;
use std::path::Path;

use asfound::evidence::seal::signature::{self, Signature};
use proptest::prelude::*;

use super::{Job, asfound, flat, program};

/// A key of ssh-keygen's: its private file.
fn key(folder: &Path, name: &str, kind: &[&str], phrase: &str) -> String {
    let made = program(
        folder,
        "ssh-keygen",
        &[&["-q", "-N", phrase, "-C", "", "-f", name, "-t"], kind].concat(),
        b"",
    );
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    folder.join(name).display().to_string()
}

/// The key's fingerprint, as ssh-keygen has it.
fn fingerprint(key: &str) -> String {
    let output = program(Path::new("/"), "ssh-keygen", &["-l", "-f", &format!("{key}.pub")], b"");
    String::from_utf8(output.stdout).unwrap().split(' ').nth(1).unwrap().to_owned()
}

/// Whether ssh-keygen takes the signature for one of the seal.
fn accepted(visit: &Path) -> bool {
    let seal = fs::read(visit.join("seal.txt")).unwrap();
    let arguments = ["-Y", "check-novalidate", "-n", "asfound-seal", "-s", "seal.txt.sig"];
    program(visit, "ssh-keygen", &arguments, &seal).status.success()
}

#[test]
fn ours_is_accepted_by_ssh_keygen_and_its_own_is_the_same_file() {
    for (kind, ours_to_the_byte) in
        [(&["ed25519"][..], true), (&["ecdsa", "-b", "256"], false), (&["ecdsa", "-b", "384"], false)]
    {
        let job = Job::new();
        let key = key(job.home.path(), "key", kind, "");
        let said = job.sealed(&["as-found", "--ssh-key", &key]);
        let fingerprint = fingerprint(&key);
        assert!(said.contains(&fingerprint), "{said}");
        let visit = job.folder.join("visits/as-found");
        assert!(accepted(&visit), "{kind:?}");
        // As somebody who knows the key verifies it.
        let public = fs::read_to_string(format!("{key}.pub")).unwrap();
        fs::write(job.home.path().join("signers"), format!("reader@shop.example {public}")).unwrap();
        let signers = job.home.path().join("signers").display().to_string();
        let seal = fs::read(visit.join("seal.txt")).unwrap();
        let arguments = [
            "-Y",
            "verify",
            "-f",
            &signers,
            "-I",
            "reader@shop.example",
            "-n",
            "asfound-seal",
            "-s",
            "seal.txt.sig",
        ];
        assert!(program(&visit, "ssh-keygen", &arguments, &seal).status.success(), "{kind:?}");

        let ours = job.read("visits/as-found/seal.txt.sig");
        fs::remove_file(visit.join("seal.txt.sig")).unwrap();
        let signed =
            program(&visit, "ssh-keygen", &["-Y", "sign", "-n", "asfound-seal", "-f", &key, "seal.txt"], b"");
        assert!(signed.status.success(), "{}", String::from_utf8_lossy(&signed.stderr));
        // Ed25519 has one signature for one message (RFC 8032); ssh-keygen's ECDSA draws at random.
        if ours_to_the_byte {
            assert_eq!(job.read("visits/as-found/seal.txt.sig"), ours);
        }
        let (said, err) = job.inspect();
        let wanted = format!(
            "{fingerprint}; the signature is good for this seal. Whose key that is, is not judged here."
        );
        assert!(said.contains(&wanted), "{said}");
        assert_eq!(err, "");
    }
}

#[test]
fn a_signature_by_rsa_is_checked_and_one_for_other_bytes_or_another_end_is_not_good() {
    let job = Job::new();
    job.sealed(&["as-found"]);
    let visit = job.folder.join("visits/as-found");
    let key = key(job.home.path(), "key", &["rsa", "-b", "2048"], "");
    let sign = |namespace: &str| {
        let _ = fs::remove_file(visit.join("seal.txt.sig"));
        let made =
            program(&visit, "ssh-keygen", &["-Y", "sign", "-n", namespace, "-f", &key, "seal.txt"], b"");
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    };
    sign("asfound-seal");
    let (said, err) = job.inspect();
    assert!(said.contains("Signed with ssh-rsa SHA256:"), "{said}");
    assert_eq!(err, "");

    sign("file");
    let (said, err) = job.inspect();
    assert!(said.contains("for the namespace 'file' and not as a seal's"), "{said}");
    assert!(err.contains("its signature is not good"), "{err}");
    assert!(!accepted(&visit));

    sign("asfound-seal");
    job.write(
        "visits/as-found/seal.txt",
        &job.read("visits/as-found/seal.txt").replace("16:20:05", "16:20:06"),
    );
    let (said, err) = job.inspect();
    assert!(said.contains("is not good for this seal: one of the two was changed"), "{said}");
    assert!(err.contains("its signature is not good"), "{err}");
    assert!(!accepted(&visit));

    job.write(
        "visits/as-found/seal.txt.sig",
        "-----BEGIN SSH SIGNATURE-----\nAAAA\n-----END SSH SIGNATURE-----\n",
    );
    assert!(job.inspect().0.contains("seal.txt.sig cannot be checked: it is no SSH signature"));
}

#[test]
fn a_key_that_is_not_used_is_refused_with_the_command_that_signs_and_nothing_is_written() {
    let job = Job::new();
    let locked = key(job.home.path(), "locked", &["ed25519"], "a phrase");
    let rsa = key(job.home.path(), "rsa", &["rsa", "-b", "2048"], "");
    let big = key(job.home.path(), "big", &["ecdsa", "-b", "521"], "");
    let before = job.files();
    for (file, why) in [
        (locked.clone(), "the key has a passphrase"),
        (rsa, "does not sign with a key of the kind ssh-rsa"),
        (big, "does not sign with a key of the kind ecdsa-sha2-nistp521"),
        (format!("{locked}.pub"), "this is a public key"),
    ] {
        let (code, _, err) = job.seal(&["as-found", "--ssh-key", &file]);
        assert_eq!(code, 2, "{err}");
        assert!(err.contains(why), "{err}");
        let command = format!(
            "ssh-keygen -Y sign -n asfound-seal -f {file} {}",
            job.folder.join("visits/as-found/seal.txt").display()
        );
        assert!(err.contains(&command), "{err}");
    }
    for (file, why) in [
        (job.folder.join("session.yaml"), "no private key in OpenSSH's format"),
        (job.folder.join("none"), "No such file"),
    ] {
        let (code, _, err) = job.seal(&["as-found", "--ssh-key", file.to_str().unwrap()]);
        assert_eq!(code, 2, "{err}");
        assert!(err.contains(why), "{err}");
    }
    assert_eq!(job.files(), before);
}

#[test]
fn a_seal_that_holds_is_signed_later_and_a_signature_is_never_written_over() {
    let job = Job::new();
    job.sealed(&["as-found"]);
    let seal = job.read("visits/as-found/seal.txt");
    let first = key(job.home.path(), "first", &["ed25519"], "");
    let second = key(job.home.path(), "second", &["ed25519"], "");
    let said = job.sealed(&["as-found", "--ssh-key", &first]);
    assert!(said.contains("It stays.") && said.contains("signed with ssh-ed25519"), "{said}");
    let all = job.files();
    job.sealed(&["as-found", "--ssh-key", &first]);
    let (code, _, err) = job.seal(&["as-found", "--ssh-key", &second]);
    assert_eq!(code, 1);
    assert!(flat(&err).contains("seal.txt.sig is there, and is not of this key"), "{err}");
    assert_eq!(job.files(), all);

    // Sealed again, the old signature stays with the old seal.
    job.write("visits/as-found/photos/dial.txt", "another note\n");
    let signature = job.read("visits/as-found/seal.txt.sig");
    job.sealed(&["as-found", "--again", "--ssh-key", &second]);
    assert_eq!(job.read("visits/as-found/seal-1.txt"), seal);
    assert_eq!(job.read("visits/as-found/seal-1.txt.sig"), signature);
    assert!(accepted(&job.folder.join("visits/as-found")));
    let (code, _, err) = asfound(&["inspect", job.folder.to_str().unwrap()]);
    assert_eq!((code, err.as_str()), (0, ""));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    /// A signature of ssh-keygen's (9.2p1) over "seal\n", changed.
    #[test]
    fn a_changed_signature_is_not_good(at in 0usize..10_000, to in any::<u8>()) {
        let whole = include_bytes!("ssh-keygen.sig");
        let mut bytes = whole.to_vec();
        let at = at % bytes.len();
        bytes[at] = to;
        let found = signature::check(b"seal\n", Ok(bytes.clone()));
        if matches!(found, Signature::Good(_)) {
            // Only white space may differ.
            let letters = |bytes: &[u8]| bytes.iter().copied().filter(|byte| !byte.is_ascii_whitespace()).collect::<Vec<_>>();
            prop_assert_eq!(letters(&bytes), letters(whole));
        }
    }
}

#[test]
fn the_signature_that_is_changed_there_is_good() {
    let found = signature::check(b"seal\n", Ok(include_bytes!("ssh-keygen.sig").to_vec()));
    assert!(found.is_good(), "{found:?}");
}
