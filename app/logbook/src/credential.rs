//! A certificate as an open credential: W3C Verifiable Credentials 2.0 and Open Badges 3.0, as a signed JWT.
//!
//! The payload of the JWT is the credential itself with the registered claims beside it (Open Badges 3.0, section 8.2.4:
//! VC-JWT). It is signed with RS256, which every reader of such credentials knows, or with EdDSA. The issuer's identifier
//! is its key (`did:jwk` or `did:key`): it proves that this key signed it, and nothing about who holds the key. The
//! entry that told of the key, and the academy's key that admitted the owner's, stand in the record file.

use chrono::SecondsFormat;
use practicum::certificate::Certificate;
use practicum::moment::Moment;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::signature::PublicKey;

/// Context of Verifiable Credentials 2.0.
pub const VC_CONTEXT: &str = "https://www.w3.org/ns/credentials/v2";
/// Context of Open Badges 3.0, version 3.0.3.
pub const OB_CONTEXT: &str = "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json";

/// A competency that stands behind a certificate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stands {
    /// Its name.
    pub competency: String,
    /// Independence level, 0 to 6.
    pub level: u8,
    /// Who signed it off, by name.
    pub by: String,
    /// When.
    pub at: Moment,
    /// What the course book asks for, in words.
    pub asked: String,
    /// Hash of the entry that signed it off.
    pub hash: String,
}

/// What a credential says.
#[derive(Debug, Clone)]
pub struct Credential<'a> {
    /// The certificate.
    pub certificate: &'a Certificate,
    /// Identifier of the entry that issued it.
    pub entry: &'a str,
    /// When it was issued.
    pub issued: Moment,
    /// Name of the academy.
    pub academy: &'a str,
    /// Name of the trainee.
    pub trainee: &'a str,
    /// The trainee's code: [`crate::review_code::trainee_code`].
    pub code: &'a str,
    /// The competencies behind it.
    pub stands_on: &'a [Stands],
}

/// A key that signs credentials: what its holder is called, and the public half for the header.
#[derive(Debug, Clone, PartialEq)]
pub struct Signer {
    /// `RS256` or `EdDSA`.
    pub algorithm: &'static str,
    /// `did:jwk:…` or `did:key:…`.
    pub issuer: String,
    /// Public half as a JSON Web Key.
    pub jwk: Value,
}

impl Signer {
    /// The signer of an Ed25519 key (RFC 8037).
    pub fn ed25519(key: &PublicKey) -> Self {
        let jwk = json!({ "kty": "OKP", "crv": "Ed25519", "x": base64url(key.bytes()) });
        Self { algorithm: "EdDSA", issuer: format!("did:key:{}", key.text()), jwk }
    }

    /// The signer of an RSA key, from its public JSON Web Key as the browser exports it.
    ///
    /// # Errors
    /// Returns a sentence when it is none.
    pub fn rsa(jwk: &str) -> Result<Self, String> {
        let wrong = || "The browser’s key for credentials cannot be read.".to_owned();
        let read = crate::json::read(jwk).map_err(|_| wrong())?;
        let part = |name: &str| read.get(name).and_then(Value::as_str).map(str::to_owned).ok_or_else(wrong);
        if part("kty")? != "RSA" {
            return Err(wrong());
        }
        // Private parts never get here, and would not be passed on.
        let jwk = json!({ "kty": "RSA", "n": part("n")?, "e": part("e")? });
        let text = crate::json::canonical(&jwk)?;
        Ok(Self { algorithm: "RS256", issuer: format!("did:jwk:{}", base64url(text.as_bytes())), jwk })
    }
}

impl Credential<'_> {
    /// Returns the text that a signer signs: header and payload of the JWT, in Base64url, with a dot between.
    ///
    /// # Errors
    /// Returns why there is none, which no certificate gives cause for.
    pub fn to_sign(&self, signer: &Signer) -> Result<String, String> {
        let header = json!({ "alg": signer.algorithm, "typ": "JWT", "jwk": signer.jwk });
        let [header, payload] = [header, self.payload(signer)].map(|part| crate::json::canonical(&part));
        Ok(format!("{}.{}", base64url(header?.as_bytes()), base64url(payload?.as_bytes())))
    }

    fn payload(&self, signer: &Signer) -> Value {
        let id = urn(&format!("certificate {}", self.entry));
        let subject = urn(&format!("trainee {}", self.code));
        let issued = self.issued.with_timezone(&chrono::Utc);
        let certificate = self.certificate;
        let scope = certificate.scope.word();
        let asked: Vec<String> =
            self.stands_on.iter().map(|one| format!("{}: {}", one.competency, one.asked)).collect();
        let evidence = |one: &Stands| {
            json!({
                "id": urn(&format!("entry {}", one.hash)),
                "type": ["Evidence"],
                "name": format!("Sign-off: {}", one.competency),
                "narrative": format!(
                    "Signed off at independence level {} of 6 by {} on {}. SHA-256 of the entry: {}.",
                    one.level,
                    one.by,
                    one.at.format("%Y-%m-%d"),
                    one.hash
                ),
            })
        };
        let narrative = format!(
            "Course book “{}”. {} Signed off by an assessor who did not do the work. Not a licence.",
            certificate.course_book,
            asked.join(" ")
        );
        json!({
            "@context": [VC_CONTEXT, OB_CONTEXT],
            "id": id,
            "type": ["VerifiableCredential", "OpenBadgeCredential"],
            "name": format!("Training certificate {}: {scope}", certificate.number),
            "issuer": { "id": signer.issuer, "type": ["Profile"], "name": self.academy },
            "validFrom": issued.to_rfc3339_opts(SecondsFormat::Secs, true),
            "credentialSubject": {
                "id": subject,
                "type": ["AchievementSubject"],
                "identifier": [{
                    "type": "IdentityObject",
                    "hashed": false,
                    "identityHash": self.trainee,
                    "identityType": "name",
                }],
                "achievement": {
                    "id": urn(&format!("achievement {scope} {}", certificate.course_book)),
                    "type": ["Achievement"],
                    "achievementType": "Certificate",
                    "name": format!("Training in {scope}"),
                    "description": format!(
                        "What the academy saw and signed off in training for {scope}. A training certificate is not a licence."
                    ),
                    "criteria": { "narrative": narrative },
                },
            },
            "evidence": self.stands_on.iter().map(evidence).collect::<Vec<Value>>(),
            "iss": signer.issuer,
            "jti": id,
            "sub": subject,
            "nbf": issued.timestamp(),
        })
    }
}

/// Joins what was signed with its signature.
pub fn joined(to_sign: &str, signature: &[u8]) -> String {
    format!("{to_sign}.{}", base64url(signature))
}

/// Makes an identifier that always is the same for the same words: a UUID of version 8 (RFC 9562) of their SHA-256.
fn urn(words: &str) -> String {
    let mut bytes: Vec<u8> = Sha256::digest(format!("upsweep credential\n{words}")).iter().copied().take(16).collect();
    for (place, kept, set) in [(6, 0x0f, 0x80), (8, 0x3f, 0x80)] {
        if let Some(byte) = bytes.get_mut(place) {
            *byte = (*byte & kept) | set;
        }
    }
    let hex: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
    let parts = [0..8, 8..12, 12..16, 16..20, 20..32].map(|part| hex.get(part).unwrap_or_default().to_owned());
    format!("urn:uuid:{}", parts.join("-"))
}

/// Writes bytes in Base64url without padding (RFC 4648, section 5; RFC 7515, appendix C).
pub fn base64url(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let all = three.iter().fold(0_u32, |all, byte| all << 8 | u32::from(*byte)) << (8 * (3 - three.len()));
        for place in 0..=three.len() {
            let six = all >> (18 - 6 * place) & 63;
            text.push(LETTERS.get(six as usize).map_or('A', |letter| char::from(*letter)));
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use ed25519_dalek::{Signer as _, SigningKey};
    use practicum::certificate::CertificateScope;
    use practicum::moment::parse_moment;

    use super::*;

    fn certificate() -> Certificate {
        Certificate {
            number: "K7Q4-0001".to_owned(),
            trainee: "t".into(),
            scope: CertificateScope::LiftAndTint,
            sign_offs: vec!["e".into()],
            assessor: "i".into(),
            on: "2026-05-30".parse().unwrap(),
            course_book: "Lash lift course, edition 2".into(),
            record_hash: "00".repeat(32),
        }
    }

    fn payload(signer: &Signer) -> Value {
        let stands = [Stands {
            competency: "The whole service".to_owned(),
            level: 5,
            by: "Invented Instructor".to_owned(),
            at: parse_moment("2026-05-29T10:00:00+02:00").unwrap(),
            asked: "15 live services".to_owned(),
            hash: "ab".repeat(32),
        }];
        let certificate = certificate();
        let credential = Credential {
            certificate: &certificate,
            entry: "entry",
            issued: parse_moment("2026-05-30T12:00:00+02:00").unwrap(),
            academy: "Invented \"Academy\" <b>",
            trainee: "Invented Trainee",
            code: "ABCDEFGH",
            stands_on: &stands,
        };
        let to_sign = credential.to_sign(signer).unwrap();
        assert_eq!(to_sign.matches('.').count(), 1);
        credential.payload(signer)
    }

    fn key() -> (SigningKey, Signer) {
        let secret = SigningKey::from_bytes(&[7; 32]);
        let public = PublicKey::of_bytes(secret.verifying_key().as_bytes()).unwrap();
        (secret, Signer::ed25519(&public))
    }

    /// Fields that Open Badges 3.0 requires of an AchievementCredential and what is in it (its JSON schema for 3.0.3,
    /// as read second-hand), and the claims of a VC-JWT.
    #[test]
    fn every_required_field_is_there() {
        let payload = payload(&key().1);
        for field in [
            "/@context/0",
            "/@context/1",
            "/id",
            "/type/0",
            "/issuer/id",
            "/issuer/type/0",
            "/validFrom",
            "/credentialSubject/type/0",
            "/credentialSubject/id",
            "/credentialSubject/achievement/id",
            "/credentialSubject/achievement/type/0",
            "/credentialSubject/achievement/name",
            "/credentialSubject/achievement/description",
            "/credentialSubject/achievement/criteria/narrative",
            "/evidence/0/narrative",
            "/iss",
            "/jti",
            "/sub",
            "/nbf",
        ] {
            assert!(payload.pointer(field).is_some(), "{field} is missing");
        }
        assert_eq!(payload["@context"][0], VC_CONTEXT);
        assert_eq!(payload["validFrom"], "2026-05-30T10:00:00Z");
        assert_eq!(
            (&payload["iss"], &payload["jti"], &payload["sub"]),
            (&payload["issuer"]["id"], &payload["id"], &payload["credentialSubject"]["id"])
        );
        assert_eq!(payload["nbf"], 1_780_135_200);
        assert!(payload["id"].as_str().unwrap().starts_with("urn:uuid:"));
        let text = payload.to_string();
        assert!(text.contains("not a licence") && !text.to_lowercase().contains("licensed"));
    }

    /// RFC 8037, appendix A.4 (from memory): the key signs the text to the signature printed there.
    #[test]
    fn the_signature_of_rfc_8037_comes_out() {
        let secret: [u8; 32] = [
            0x9d, 0x61, 0xb1, 0x9d, 0xef, 0xfd, 0x5a, 0x60, 0xba, 0x84, 0x4a, 0xf4, 0x92, 0xec, 0x2c, 0xc4, 0x44, 0x49,
            0xc5, 0x69, 0x7b, 0x32, 0x69, 0x19, 0x70, 0x3b, 0xac, 0x03, 0x1c, 0xae, 0x7f, 0x60,
        ];
        let secret = SigningKey::from_bytes(&secret);
        let public = PublicKey::of_bytes(secret.verifying_key().as_bytes()).unwrap();
        assert_eq!(Signer::ed25519(&public).jwk["x"], "11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo");
        let to_sign = format!("{}.{}", base64url(br#"{"alg":"EdDSA"}"#), base64url(b"Example of Ed25519 signing"));
        assert_eq!(to_sign, "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc");
        let jws = joined(&to_sign, &secret.sign(to_sign.as_bytes()).to_bytes());
        assert!(
            jws.ends_with(".hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg")
        );
    }

    /// RFC 4648, section 10, without padding, and the two letters that differ from Base64.
    #[test]
    fn base64url_is_that_of_the_standard() {
        let all = ["", "f", "fo", "foo", "foob", "fooba", "foobar"].map(|text| base64url(text.as_bytes()));
        assert_eq!(all, ["", "Zg", "Zm8", "Zm9v", "Zm9vYg", "Zm9vYmE", "Zm9vYmFy"]);
        assert_eq!(base64url(&[0xfb, 0xff]), "-_8");
    }

    #[test]
    fn only_the_public_half_of_an_rsa_key_is_passed_on() {
        let signer = Signer::rsa(r#"{"kty":"RSA","n":"sXch","e":"AQAB","d":"secret","alg":"RS256"}"#).unwrap();
        assert_eq!(signer.jwk, json!({ "kty": "RSA", "n": "sXch", "e": "AQAB" }));
        assert!(signer.issuer.starts_with("did:jwk:") && signer.algorithm == "RS256");
        assert!(Signer::rsa(r#"{"kty":"OKP"}"#).is_err() && Signer::rsa("no").is_err());
        assert_eq!(payload(&signer)["iss"], signer.issuer.as_str());
    }
}
