"""A browser's side of Web Push: keys, and reading what arrived; written from RFC 8291, RFC 8188 and RFC 8292 alone.

The push service itself is the HTTP receiver (`webhook`). Not here: anything of ours that encrypts or signs.
"""

from __future__ import annotations

import hmac
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

import jwt
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from tests.parts.webhook import Call


def encoded(octets: bytes) -> str:
    return urlsafe_b64encode(octets).rstrip(b"=").decode()


def decoded(text: str) -> bytes:
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))


@dataclass(frozen=True)
class Device:
    """A browser that has subscribed."""

    private: ec.EllipticCurvePrivateKey = field(default_factory=lambda: ec.generate_private_key(ec.SECP256R1()))
    auth: bytes = b"sixteen octets !"

    @property
    def point(self) -> bytes:
        return self.private.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)

    @property
    def key_text(self) -> str:
        return encoded(self.point)

    @property
    def auth_text(self) -> str:
        return encoded(self.auth)

    @property
    def secret(self) -> str:
        """Both keys as the store keeps them."""
        return f"{self.key_text}.{self.auth_text}"

    def decrypt(self, body: bytes) -> bytes:
        """What a body says; raises where it is not for this device or was changed."""
        salt, size, length = body[:16], int.from_bytes(body[16:20], "big"), body[20]
        point, record = body[21 : 21 + length], body[21 + length :]
        assert len(record) <= size, "one record"
        sender = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
        secret = self.private.exchange(ec.ECDH(), sender)
        keying = _hkdf(self.auth, secret, b"WebPush: info\x00" + self.point + point, 32)
        key = _hkdf(salt, keying, b"Content-Encoding: aes128gcm\x00", 16)
        nonce = _hkdf(salt, keying, b"Content-Encoding: nonce\x00", 12)
        plain, mark, padding = AESGCM(key).decrypt(nonce, record, None).rpartition(b"\x02")
        assert mark and not padding.strip(b"\x00")
        return plain

    def read(self, call: Call) -> Any:
        """The message in a call, once its headers are as the standards ask."""
        assert call.headers["content-encoding"] == "aes128gcm"
        assert int(call.headers["ttl"]) >= 0
        assert len(call.headers["topic"]) <= 32
        return json.loads(self.decrypt(call.body))


def claims(call: Call, key: str, origin: str) -> dict[str, Any]:
    """What the sender states in a call, verified against the key that the browser subscribed to (RFC 8292)."""
    scheme, _, given = call.headers["authorization"].partition(" ")
    parts = dict(part.strip().split("=", 1) for part in given.split(","))
    assert scheme == "vapid" and parts["k"].rstrip("=") == key.rstrip("=")
    public = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), decoded(key))
    stated: dict[str, Any] = jwt.decode(parts["t"], public, algorithms=["ES256"], audience=origin)
    return stated


def _hkdf(salt: bytes, material: bytes, info: bytes, length: int) -> bytes:
    """RFC 5869 for up to 32 octets."""
    return hmac.digest(hmac.digest(salt, material, sha256), info + b"\x01", sha256)[:length]
