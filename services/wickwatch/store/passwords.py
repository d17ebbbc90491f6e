"""How passwords are kept and checked: as Argon2id hashes, whose parameters stand here and nowhere else.

They are the second recommended option of RFC 9106, section 4, and above the least that the OWASP Password Storage Cheat
Sheet asks for (19 MiB, 2 passes, 1 lane). Not here: whose a password is (`store.people`), or how often one may be tried
(`store.tries`).
"""

from __future__ import annotations

import secrets
from base64 import b64encode
from functools import cache

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError

from wickwatch.errors import InputError, Secret
from wickwatch.texts import _

#: A shorter password can be guessed even through the limits on signing in (NIST SP 800-63B, section 5.1.1.2).
PASSWORD_LEAST = 8
#: A longer one costs time to hash and gains nothing.
PASSWORD_MOST = 256

#: RFC 9106, section 4: 64 MiB of memory, 3 passes, 4 lanes, a salt of 128 bits and a tag of 256 bits.
MEMORY_KIB, PASSES, LANES, SALT_OCTETS, TAG_OCTETS = 64 * 1024, 3, 4, 16, 32
_HASHER = PasswordHasher(PASSES, MEMORY_KIB, LANES, TAG_OCTETS, SALT_OCTETS, type=Type.ID)


def hashed(password: str, name: str) -> str:
    """What is kept of a person's password. Raises InputError for one that can't be taken."""
    if not PASSWORD_LEAST <= len(password) <= PASSWORD_MOST or password.lower() == name.lower():
        raise InputError(
            _("password"),
            Secret(),
            _(
                "%(least)s to %(most)s characters, and not the name",
                least=PASSWORD_LEAST,
                most=PASSWORD_MOST,
            ),
        )
    return _HASHER.hash(password)


def fits(password: str, known: str | None) -> bool:
    """Whether a password is the one that `known` was made of; takes as long where there is none (None)."""
    try:
        _HASHER.verify(known or _nobody(), password[:PASSWORD_MOST])
    except (VerificationError, InvalidHashError):
        return False
    return known is not None and len(password) <= PASSWORD_MOST


def outdated(known: str) -> bool:
    """Whether a hash was made with other parameters than today's."""
    return _HASHER.check_needs_rehash(known)


def renewed(password: str) -> str:
    """What is kept of a password that just fitted, made with today's parameters."""
    return _HASHER.hash(password)


@cache
def _nobody() -> str:
    """A hash to check where there is none.

    It is made up, not computed: nobody knows a password for it, and the first who asks waits no longer than the rest.
    """
    salt, tag = (b64encode(secrets.token_bytes(size)).rstrip(b"=").decode() for size in (SALT_OCTETS, TAG_OCTETS))
    return f"$argon2id$v=19$m={MEMORY_KIB},t={PASSES},p={LANES}${salt}${tag}"
