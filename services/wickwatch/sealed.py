"""Octets as signed text, for links and browsers to keep, so that nothing is kept here.

Whoever holds the secret key alone can make one, and one made for a purpose is none for another. Not here: what is said
in it, nor when it ends.
"""

from __future__ import annotations

from base64 import urlsafe_b64decode, urlsafe_b64encode
from hashlib import sha256

from itsdangerous import BadSignature, Signer


def seal(secret_key: str, purpose: str, said: bytes) -> str:
    """What is said, as text for an address or a cookie."""
    return _signer(secret_key, purpose).sign(urlsafe_b64encode(said).rstrip(b"=")).decode()


def opened(secret_key: str, purpose: str, text: str, octets: int | None = None) -> bytes | None:
    """What such a text says, in so many octets if given; None where it was not made with this key for this purpose."""
    try:
        said = _signer(secret_key, purpose).unsign(text.encode())
        found = urlsafe_b64decode(said + b"=" * (-len(said) % 4))
    except (BadSignature, ValueError):
        return None
    return found if octets in (None, len(found)) else None


def _signer(secret_key: str, purpose: str) -> Signer:
    return Signer(secret_key, salt=f"wickwatch.{purpose}", key_derivation="hmac", digest_method=sha256)
