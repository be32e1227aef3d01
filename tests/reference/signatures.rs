//! Ed25519 signatures against published vectors: RFC 8032 (`data/rfc8032/SOURCE.md`), Wycheproof
//! (`data/wycheproof/SOURCE.md`) and the W3C's suite `eddsa-jcs-2022` (`data/eddsa-jcs-2022/SOURCE.md`).

use ed25519_dalek::{Signer as _, SigningKey};
use logbook::entry::canonical_json;
use logbook::signature::{PublicKey, Signature, proof_bytes};
use serde_json::Value;

fn bytes(hex: &str) -> Vec<u8> {
    assert!(hex.len().is_multiple_of(2), "{hex}");
    (0..hex.len()).step_by(2).map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap()).collect()
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn the_standards_own_vectors_are_signed_and_verified_as_printed() {
    let file: Value = serde_json::from_str(include_str!("data/rfc8032/section_7_1.json")).unwrap();
    let vectors = file["vectors"].as_array().unwrap();
    assert_eq!(vectors.len(), 5);
    for vector in vectors {
        let part = |name: &str| bytes(vector[name].as_str().unwrap());
        let (message, signature) = (part("message"), part("signature"));
        let signing = SigningKey::from_bytes(part("secret").as_slice().try_into().unwrap());
        assert_eq!(signing.verifying_key().as_bytes().as_slice(), part("public"));
        assert_eq!(signing.sign(&message).to_bytes().as_slice(), signature);
        let key = PublicKey::of_bytes(&part("public")).unwrap();
        assert!(key.signed(&message, &Signature::of_bytes(&signature).unwrap()));
        for bit in 0..signature.len() * 8 {
            let mut changed = signature.clone();
            changed[bit / 8] ^= 1 << (bit % 8);
            assert!(!key.signed(&message, &Signature::of_bytes(&changed).unwrap()), "bit {bit} of the signature");
        }
        let longer = [message.as_slice(), &[0]].concat();
        assert!(!key.signed(&longer, &Signature::of_bytes(&signature).unwrap()));
    }
}

#[test]
fn every_wycheproof_vector_is_judged_as_published() {
    let file: Value = serde_json::from_str(include_str!("data/wycheproof/ed25519.json")).unwrap();
    let (mut good, mut bad) = (0_u64, 0_u64);
    for group in file["testGroups"].as_array().unwrap() {
        let key = PublicKey::of_bytes(&bytes(group["publicKey"]["pk"].as_str().unwrap())).unwrap();
        for test in group["tests"].as_array().unwrap() {
            let message = bytes(test["msg"].as_str().unwrap());
            let signature = Signature::of_bytes(&bytes(test["sig"].as_str().unwrap()));
            let holds = signature.is_ok_and(|signature| key.signed(&message, &signature));
            let wanted = match test["result"].as_str().unwrap() {
                "valid" => true,
                "invalid" => false,
                other => panic!("{other} is no result that this test knows"),
            };
            assert_eq!(holds, wanted, "vector {}: {}", test["tcId"], test["comment"]);
            if wanted { good += 1 } else { bad += 1 }
        }
    }
    assert_eq!(good + bad, file["numberOfTests"].as_u64().unwrap());
    assert!(good > 50 && bad > 50, "{good} good and {bad} bad ones");
}

const DOCUMENT: &str = include_str!("data/eddsa-jcs-2022/unsigned.json");
const CONFIG: &str = include_str!("data/eddsa-jcs-2022/proofConfigJCS.json");

fn key() -> PublicKey {
    let pair: Value = serde_json::from_str(include_str!("data/eddsa-jcs-2022/keyPair.json")).unwrap();
    let text = pair["publicKeyMultibase"].as_str().unwrap();
    let key = PublicKey::read(text).unwrap();
    assert_eq!(key.text(), text);
    key
}

fn value(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn canonical_forms_and_hashes_are_the_published_ones() {
    assert_eq!(canonical_json(DOCUMENT).unwrap(), include_str!("data/eddsa-jcs-2022/canonDocJCS.txt").trim_end());
    assert_eq!(canonical_json(CONFIG).unwrap(), include_str!("data/eddsa-jcs-2022/proofCanonJCS.txt").trim_end());
    let signed = hex(&proof_bytes(&value(CONFIG), &value(DOCUMENT)).unwrap());
    assert_eq!(signed, include_str!("data/eddsa-jcs-2022/combinedHashJCS.txt").trim_end());
    let (proof, document) = signed.split_at(64);
    assert_eq!(proof, include_str!("data/eddsa-jcs-2022/proofHashJCS.txt").trim_end());
    assert_eq!(document, include_str!("data/eddsa-jcs-2022/docHashJCS.txt").trim_end());
}

#[test]
fn the_published_proof_holds_and_nothing_changed_does() {
    let signature = Signature::read(include_str!("data/eddsa-jcs-2022/sigBTC58JCS.txt").trim_end()).unwrap();
    let published = bytes(include_str!("data/eddsa-jcs-2022/sigHexJCS.txt").trim_end());
    assert_eq!(Signature::of_bytes(&published), Ok(signature));
    let signed: Value = value(include_str!("data/eddsa-jcs-2022/signedJCS.json"));
    assert_eq!(signed["proof"]["proofValue"].as_str(), Some(signature.text().as_str()));

    let message = proof_bytes(&value(CONFIG), &value(DOCUMENT)).unwrap();
    assert!(key().signed(&message, &signature));
    for bit in 0..message.len() * 8 {
        let mut changed = message.clone();
        changed[bit / 8] ^= 1 << (bit % 8);
        assert!(!key().signed(&changed, &signature), "bit {bit} of the message");
    }
    for bit in 0..published.len() * 8 {
        let mut changed = published.clone();
        changed[bit / 8] ^= 1 << (bit % 8);
        assert!(!key().signed(&message, &Signature::of_bytes(&changed).unwrap()), "bit {bit} of the signature");
    }
}
