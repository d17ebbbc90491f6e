"""Encrypting a message for one browser: RFC 8291, in the content coding of RFC 8188 (aes128gcm), one record.

Only the browser can read it; the push service that carries it can't. Not here: who we are to that service (`vapid`).
"""

from __future__ import annotations

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

#: Record size as stated; push services take at most 4096 octets (RFC 8030, section 7.2).
RECORD = 4096

#: Octets of a message that leave room for header (86), padding mark (1) and tag (16).
PLAIN_MOST = RECORD - 86 - 17


def encrypt(plain: bytes, browser: bytes, secret: bytes, own: ec.EllipticCurvePrivateKey, salt: bytes) -> bytes:
    """The body to post. `browser` is its public key (65 octets) and `secret` its 16; `own` and `salt` (16) are fresh.

    Raises ValueError for a message that is too long, or a key that is no point of P-256.
    """
    if len(plain) > PLAIN_MOST:
        raise ValueError(f"{len(plain)} octets; {PLAIN_MOST} fit")
    theirs = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), browser)
    ours = own.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    shared = own.exchange(ec.ECDH(), theirs)
    keying = _derive(shared, secret, b"WebPush: info\0" + browser + ours, 32)
    key = _derive(keying, salt, b"Content-Encoding: aes128gcm\0", 16)
    nonce = _derive(keying, salt, b"Content-Encoding: nonce\0", 12)
    header = salt + RECORD.to_bytes(4, "big") + bytes([len(ours)]) + ours
    # The octet 2 marks the last record (RFC 8188, section 2); there is no padding.
    return header + AESGCM(key).encrypt(nonce, plain + b"\2", None)


def _derive(material: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    return HKDF(SHA256(), length, salt, info).derive(material)
