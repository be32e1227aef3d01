//! Open credentials verified by an independent implementation: openbadgeslib from PyPI, by `scripts/verify_credential.py`.
//! Where the machine has none, that half says so. The names of the context that PyPI's and the standard's own file give
//! are held against what is written here.

use std::path::Path;
use std::process::Command;

use ed25519_dalek::{Signer as _, SigningKey};
use logbook::credential::{Credential, OB_CONTEXT, Signer, Stands, VC_CONTEXT, joined};
use logbook::signature::PublicKey;
use practicum::certificate::{Certificate, CertificateScope};
use practicum::moment::parse_moment;

/// The context of Open Badges 3.0, version 3.0.3, as its publisher ships it.
const CONTEXT: &str = include_str!("checks/openbadges_context_3.0.3.json");

fn credential() -> String {
    let secret = SigningKey::from_bytes(&[42; 32]);
    let key = PublicKey::of_bytes(secret.verifying_key().as_bytes()).expect("a key");
    let certificate = Certificate {
        number: "K7Q4-0001".to_owned(),
        trainee: "t".into(),
        scope: CertificateScope::Lift,
        sign_offs: vec!["e".into()],
        assessor: "i".into(),
        on: "2026-05-30".parse().expect("a day"),
        course_book: "Lash lift course, edition 2".into(),
        record_hash: "00".repeat(32),
    };
    let stands_on = [Stands {
        competency: "The whole service".to_owned(),
        level: 5,
        by: "Invented Instructor".to_owned(),
        at: parse_moment("2026-05-29T10:00:00+02:00").expect("a moment"),
        asked: "15 live services".to_owned(),
        hash: "ab".repeat(32),
    }];
    let credential = Credential {
        certificate: &certificate,
        entry: "entry",
        issued: parse_moment("2026-05-30T12:00:00+02:00").expect("a moment"),
        academy: "Invented Academy",
        trainee: "Invented Trainee",
        code: "ABCDEFGH",
        stands_on: &stands_on,
    };
    let text = credential.to_sign(&Signer::ed25519(&key)).expect("a text");
    joined(&text, &secret.sign(text.as_bytes()).to_bytes())
}

fn has_library() -> bool {
    let found = Command::new("python3").args(["-c", "import openbadgeslib"]).output();
    found.is_ok_and(|found| found.status.success())
}

fn theirs(name: &str, token: &str) -> (bool, String) {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, token).expect("a scratch file");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/scripts/verify_credential.py");
    let ran = Command::new("python3").arg(script).arg(path).output().expect("python3 runs");
    (ran.status.success(), String::from_utf8_lossy(&ran.stdout).into_owned())
}

#[test]
fn an_independent_implementation_verifies_a_credential_and_refuses_a_changed_one() {
    let token = credential();
    if !has_library() {
        println!("not compared: this machine has no python3 with the package openbadgeslib");
        return;
    }
    let (held, said) = theirs("credential.jwt", &token);
    assert!(held && said.starts_with("HOLDS EdDSA Training in lash lift"), "{said}");
    let (head, signature) = token.rsplit_once('.').expect("three parts");
    let changed = head.len() - 7;
    let letter = if &head[changed..=changed] == "A" { "B" } else { "A" };
    let forged = format!("{}{letter}{}.{signature}", &head[..changed], &head[changed + 1..]);
    assert!(!theirs("forged.jwt", &forged).0);
    assert!(!theirs("cut.jwt", head).0);
}

#[test]
fn every_word_of_the_credential_stands_in_the_published_context() {
    assert!(OB_CONTEXT.ends_with("context-3.0.3.json") && VC_CONTEXT.ends_with("/credentials/v2"));
    for word in [
        "OpenBadgeCredential",
        "AchievementSubject",
        "Achievement",
        "achievementType",
        "criteria",
        "narrative",
        "Evidence",
        "Profile",
        "IdentityObject",
        "identityHash",
        "identityType",
        "hashed",
        "identifier",
    ] {
        assert!(CONTEXT.contains(&format!("\"{word}\"")), "{word} is no word of the context");
    }
}
