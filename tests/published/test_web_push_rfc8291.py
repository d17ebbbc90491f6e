"""Encryption of push messages against RFC 8291, section 5 and appendix A, and an independent implementation.

Source: the RFC's worked example; the second check encrypts with another library and decrypts with the tests' own
reader, which the first check has tied to the RFC.
"""

from __future__ import annotations

import pytest
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric import ec

from tests.parts.push import Device, decoded, encoded
from wickwatch.notify.encryption import PLAIN_MOST, encrypt

PLAIN = b"When I grow up, I want to be a watermelon"
UA_PUBLIC = "BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4"
UA_PRIVATE = "q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94"
AUTH = "BTBZMqHH6r4Tts7J_aSIgg"
AS_PRIVATE = "yfWPiYE-n46HLnH0KqZOF1fJJU3MYrct3AELtAQ-oRw"
SALT = "DGv6ra1nlYgDCS1FRnbzlw"
BODY = (
    "DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_"
    "yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN"
)


def private(text: str) -> ec.EllipticCurvePrivateKey:
    return ec.derive_private_key(int.from_bytes(decoded(text), "big"), ec.SECP256R1())


EXAMPLE = Device(private(UA_PRIVATE), decoded(AUTH))


def test_the_published_example_is_encrypted_octet_for_octet() -> None:
    body = encrypt(PLAIN, decoded(UA_PUBLIC), decoded(AUTH), private(AS_PRIVATE), decoded(SALT))
    assert encoded(body) == BODY
    assert len(body) == 144


def test_the_published_example_is_read_by_its_browser_and_by_no_other() -> None:
    assert EXAMPLE.key_text == UA_PUBLIC
    assert EXAMPLE.decrypt(decoded(BODY)) == PLAIN
    with pytest.raises(InvalidTag):
        Device(auth=decoded(AUTH)).decrypt(decoded(BODY))


def test_what_another_library_encrypts_is_read_as_ours_is() -> None:
    from webpush import VAPID, WebPush, WebPushSubscription
    from webpush.types import WebPushKeys

    device = Device()
    private_key, public_key, _ = VAPID.generate_keys()
    sender = WebPush(private_key=private_key, public_key=public_key, subscriber="calls@example.org")
    keys = WebPushKeys(auth=device.auth_text, p256dh=device.key_text)
    made = sender.get(PLAIN, WebPushSubscription(endpoint="https://push.example.org/1", keys=keys))
    ours = encrypt(PLAIN, device.point, device.auth, ec.generate_private_key(ec.SECP256R1()), bytes(16))
    assert device.decrypt(made.encrypted) == device.decrypt(ours) == PLAIN


def test_a_message_fills_one_record_and_no_more() -> None:
    device = Device()
    own = ec.generate_private_key(ec.SECP256R1())
    body = encrypt(b"x" * PLAIN_MOST, device.point, device.auth, own, bytes(16))
    assert len(body) == 4096
    assert device.decrypt(body) == b"x" * PLAIN_MOST
    with pytest.raises(ValueError, match="3993 fit"):
        encrypt(b"x" * (PLAIN_MOST + 1), device.point, device.auth, own, bytes(16))
