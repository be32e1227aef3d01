"""Checks the signatures of log entries, one JSON line each, by a second implementation.

Usage: python3 verify_entries.py FILE
Needs Python 3.9 and the package `cryptography`. Reads nothing but the file, and trusts no key: it says which key
signed what, and exits with 1 when a signature, a body's hash or a chain does not hold.
Canonical JSON as in RFC 8785 holds here without more ado: entries have no numbers but whole ones.
"""
import hashlib
import json
import sys

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

BASE58 = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"


def canonical(value):
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode("utf-8")


def unbase58(text, length):
    assert text[0] == "z", "not base58"
    number = 0
    for letter in text[1:]:
        number = number * 58 + BASE58.index(letter)
    return number.to_bytes(length, "big")


def verify(entry):
    header, key = entry["header"], entry["header"]["key"]
    proof = {
        "cryptosuite": "eddsa-jcs-2022",
        "proofPurpose": "assertionMethod",
        "type": "DataIntegrityProof",
        "verificationMethod": f"did:key:{key}#{key}",
    }
    signed = hashlib.sha256(canonical(proof)).digest() + hashlib.sha256(canonical(header)).digest()
    raw = unbase58(key, 34)
    assert raw[:2] == b"\xed\x01", "not an Ed25519 key"
    Ed25519PublicKey.from_public_bytes(raw[2:]).verify(unbase58(entry["signature"], 64), signed)
    if entry["body"] is not None:
        assert hashlib.sha256(canonical(entry["body"])).hexdigest() == header["body_hash"], "the body was changed"
    return hashlib.sha256(canonical(header)).hexdigest()


wrong, hashes, entries = 0, {"": ""}, [json.loads(line) for line in open(sys.argv[1], encoding="utf-8") if line.strip()]
for entry in sorted(entries, key=lambda entry: (entry["header"]["device"], entry["header"]["sequence"])):
    header, said = entry["header"], "holds"
    try:
        hashes[verify(entry)] = header["device"]
        assert hashes.get(header["previous"]) in ("", header["device"]), "the entry before it is missing"
    except (AssertionError, InvalidSignature, ValueError, KeyError) as why:
        wrong, said = wrong + 1, f"DOES NOT HOLD ({why!r})"
    print(f"{header['device']} {header['sequence']} {header['kind']}: {said}, key {header.get('key')}")
print(f"{len(entries)} entries, {wrong} wrong")
sys.exit(1 if wrong or not entries else 0)
