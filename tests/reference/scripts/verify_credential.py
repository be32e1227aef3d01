"""Verifies an open credential (JWT) by an independent implementation: openbadgeslib from PyPI.

Usage: python3 verify_credential.py CREDENTIAL.jwt
The key is the one that the credential names itself (did:key, did:jwk), so that a pass says: this key signed it.
"""
import base64
import json
import sys

from openbadgeslib.ob3.did import _jwk_to_pem
from openbadgeslib.ob3.verifier import OB3Verifier


def part(text):
    return json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))


token = open(sys.argv[1], encoding="utf-8").read().strip()
header, payload = part(token.split(".")[0]), part(token.split(".")[1])
issuer = payload["issuer"]["id"]
if issuer.startswith("did:key:"):
    verifier = OB3Verifier.for_issuer_did(issuer)
else:
    jwk = part(issuer.removeprefix("did:jwk:"))
    if jwk != header["jwk"]:
        sys.exit("the key in the header is not the issuer's")
    verifier = OB3Verifier(_jwk_to_pem(jwk), issuer_did=issuer)
credential = verifier.verify(token)
print("HOLDS", header["alg"], credential.achievement.name, "|", credential.issuer.name)
