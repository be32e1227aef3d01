"""Checks a record file by a second implementation: hashes, chains, signatures, admissions, sign-offs and their evidence.

Usage: python3 verify_record.py FILE [KEY], where KEY is the academy's as its recovery sheet or certificate shows it.
Receipts are not looked at. Needs Python 3.9 and the package `cryptography`. Exits with 1 when anything that it looks at does not hold.
Canonical JSON as in RFC 8785 needs no more than this: keys are ASCII and numbers whole.
"""
import hashlib, json, sys  # noqa: E401
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

BASE58 = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz"
canonical = lambda value: json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()  # noqa: E731
sha = lambda value: hashlib.sha256(canonical(value))  # noqa: E731
file = json.load(open(sys.argv[1], encoding="utf-8"))
entries, wrong = {sha(entry["header"]).hexdigest(): entry for entry in file["entries"]}, []

def unbase58(text, length):
    return sum(BASE58.index(letter) * 58**place for place, letter in enumerate(reversed(text[1:]))).to_bytes(length, "big")

def signed(entry):
    key = entry["header"]["key"]
    proof = {"cryptosuite": "eddsa-jcs-2022", "proofPurpose": "assertionMethod", "type": "DataIntegrityProof", "verificationMethod": f"did:key:{key}#{key}"}
    try:
        public = Ed25519PublicKey.from_public_bytes(unbase58(key, 34)[2:])
        public.verify(unbase58(entry["signature"], 64), sha(proof).digest() + sha(entry["header"]).digest())
        return key
    except (InvalidSignature, ValueError, TypeError, OverflowError):
        return None

def chain(head):
    while head in entries:
        yield head
        head = entries[head]["header"]["previous"]

for name, entry in entries.items():
    header, before = entry["header"], entries.get(entry["header"]["previous"], {"header": {"sequence": 0, "device": entry["header"]["device"]}})["header"]
    bad = [word for word, holds in (("signature", "key" not in header or signed(entry)), ("content", entry["body"] is None or sha(entry["body"]).hexdigest() == header["body_hash"]),
           ("chain", before["device"] == header["device"] and before["sequence"] + 1 == header["sequence"])) if not holds]
    wrong += [f"{word} of entry {header['sequence']} of {header['device']} ({header['kind']})" for word in bad]
of = lambda kind: [(entry["header"], (entry["body"] or {}).get("content"), signed(entry) if "key" in entry["header"] else None) for entry in entries.values() if entry["header"]["kind"] == kind]  # noqa: E731
made = [(said, key) for kind in ("academy founded", "academy key made") for _, said, key in of(kind) if key]
academy, root = of("academy founded")[0][0]["id"], sys.argv[2] if len(sys.argv) > 2 else made[0][1] if made else None
admitted = {said["key"]: said for header, said, key in of("key admitted") if key == root and header["academy"] == academy}
adopted = {name for said, key in made if key == root for name in (said or {}).get("adopts", [])}
ended = {said["key"]: set(chain(said["last"]["head"])) for _, said, key in of("key ended") if key == root}
print(f"academy {academy}, key {root}, {len(admitted)} keys admitted, {len(entries)} entries, as of {file['written_at']}")
for header, said, key in of("sign-off given") + of("sign-off withdrawn"):
    by, place = admitted.get(key, {}), sha(header).hexdigest()
    may = header.get("academy") == academy and by.get("scope") in ("assessing", "owning") and by["device"] == header["device"] and by["person"] in (None, header["author"]) and place in ended.get(key, [place])
    word = "HOLDS" if may else "ADOPTED, NOT SIGNED AT THE TIME" if place in adopted else "DOES NOT HOLD"
    missing = [hash for hash in (said or {}).get("evidence", []) if hash not in entries]
    words = "content withheld" if said is None else f"{said['competency']} of {said['trainee']}: {said['decision']}, level {said['level']}"
    print(f"{header['at']} {words}, by {header['author']}: {word}, {len(missing)} of its evidence missing")
    wrong += [] if word[:5] != "DOES " and not missing else [f"sign-off {header['id']}"]
print("\n".join(["does not hold: " + line for line in wrong] or ["everything looked at holds"]))
sys.exit(1 if wrong or not root else 0)
