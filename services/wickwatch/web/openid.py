"""OpenID Connect: asking a provider who somebody is, and looking at what it answers.

The code flow with PKCE (RFC 7636), state and nonce, by Authlib; what must come back with the person stays sealed in
their own browser, so that any copy of this service can finish what another began. Not here: whom an address means
(`store.people`), or the pages (`web.pages.sign_in_openid`).
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any
from urllib.parse import urlsplit

import orjson
import requests
from authlib.common.errors import AuthlibBaseError
from authlib.integrations.requests_client import OAuth2Session
from authlib.oidc.core import CodeIDToken
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet

from wickwatch import log
from wickwatch.errors import RefusedError, UnavailableError
from wickwatch.sealed import opened as unsealed
from wickwatch.sealed import seal
from wickwatch.settings import Settings
from wickwatch.texts import N_, _

#: Signatures that are taken: those a provider makes with a key of its own. Never "none", nor one made with our secret.
ALGORITHMS = ["RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA", "Ed25519"]

#: What its sealed texts are for.
_PURPOSE = "openid"

#: A provider whose clock differs by more [s] is not believed.
LEEWAY_S = 120

#: How long a provider may take to answer [s].
_PATIENCE_S = 10.0

_UNPROVEN = N_("what the provider sent does not prove who you are")


@dataclass(frozen=True)
class Provider:
    """Who vouches for people, and what this program is to it."""

    issuer: str
    client_id: str
    client_secret: str
    redirect_uri: str

    @property
    def host(self) -> str:
        """What people know it by."""
        return urlsplit(self.issuer).hostname or self.issuer


@dataclass(frozen=True)
class Asked:
    """What was asked, to be held against the answer; `url` is where the person is led, `next` where they want to go."""

    url: str
    state: str
    nonce: str
    verifier: str
    next: str
    until: datetime


@dataclass(frozen=True)
class Answer:
    """What the person brought back from the provider."""

    code: str
    state: str
    issuer: str
    error: str


def provider(settings: Settings) -> Provider | None:
    """The provider that settings name; None where they name none."""
    if not (settings.openid_issuer and settings.openid_client_id):
        return None
    back = f"{settings.base_url}/sign-in/openid/back"
    return Provider(settings.openid_issuer, settings.openid_client_id, settings.openid_client_secret, back)


def ask(provider: Provider, next: str, until: datetime) -> Asked:
    """Where to lead somebody, and what to keep until they are back. Raises UnavailableError."""
    with _session(provider) as session:
        about = _metadata(session, provider)
        state, nonce, verifier = (secrets.token_urlsafe(32) for _ in range(3))
        url, _ = session.create_authorization_url(
            _endpoint(about, "authorization_endpoint"), state=state, nonce=nonce, code_verifier=verifier
        )
    return Asked(url, state, nonce, verifier, next, until)


def verified_address(provider: Provider, asked: Asked, answer: Answer, now: datetime) -> str:
    """The mail address of whoever came back, verified by the provider.

    Raises RefusedError where the answer proves nothing or the provider has no such address, UnavailableError.
    """
    if not hmac.compare_digest(answer.state.encode(), asked.state.encode()):
        raise RefusedError(_("this answer belongs to another sign-in; try again"))
    if answer.error or not answer.code:
        raise RefusedError(_("the provider did not let you in"))
    if answer.issuer and answer.issuer != provider.issuer:  # RFC 9207
        raise RefusedError(_(_UNPROVEN))
    with _session(provider) as session:
        about = _metadata(session, provider)
        try:
            token = session.fetch_token(
                _endpoint(about, "token_endpoint"),
                grant_type="authorization_code",
                code=answer.code,
                code_verifier=asked.verifier,
                allow_redirects=False,
            )
            claims = _claims(token, _json(session, _endpoint(about, "jwks_uri")), provider, asked.nonce, now)
            if "email" not in claims and "userinfo_endpoint" in about:
                found = _json(session, _endpoint(about, "userinfo_endpoint"), withhold_token=False)
                if found.get("sub") != claims["sub"]:  # OpenID Connect Core 1.0, section 5.3.2
                    raise RefusedError(_(_UNPROVEN))
                claims |= {key: found[key] for key in ("email", "email_verified") if key in found}
        except (AuthlibBaseError, JoseError, ValueError, KeyError) as error:
            log.warning("openid.refused", provider=provider.issuer, why=f"{type(error).__name__}: {error}"[:200])
            raise RefusedError(_(_UNPROVEN)) from error
        except requests.RequestException as error:
            raise _away(provider, error) from error
    address = claims.get("email")
    if not isinstance(address, str) or claims.get("email_verified") is not True:
        raise RefusedError(_("the provider has no mail address for you that it has verified"))
    return address


def sealed(key: str, asked: Asked) -> str:
    """What is asked, for the person's own browser to keep."""
    kept = asdict(asked) | {"url": "", "until": asked.until.timestamp()}
    return seal(key, _PURPOSE, orjson.dumps(kept))


def opened(key: str, text: str, now: datetime) -> Asked | None:
    """What was asked; None where this is not ours or too old."""
    said = unsealed(key, _PURPOSE, text)
    try:
        kept = orjson.loads(said or b"")
    except ValueError:
        return None
    until = datetime.fromtimestamp(kept.pop("until"), UTC)
    return Asked(**kept, until=until) if now < until else None


def _claims(
    token: Mapping[str, Any], keys: Mapping[str, Any], provider: Provider, nonce: str, now: datetime
) -> dict[str, Any]:
    """What the ID token says, once signature, issuer, audience, times, nonce and access token fit."""
    decoded = jwt.decode(token["id_token"], KeySet.import_key_set(keys), algorithms=ALGORITHMS)  # type: ignore[arg-type]
    wanted = {
        "iss": {"essential": True, "value": provider.issuer},
        "aud": {"essential": True, "value": provider.client_id},
    }
    known = {"nonce": nonce, "client_id": provider.client_id, "access_token": token.get("access_token")}
    claims = CodeIDToken(decoded.claims, decoded.header, wanted, known)
    claims.validate(now=int(now.timestamp()), leeway=LEEWAY_S)
    return dict(claims)


def _session(provider: Provider) -> Any:
    return OAuth2Session(
        provider.client_id,
        provider.client_secret or None,
        token_endpoint_auth_method="client_secret_basic" if provider.client_secret else "none",
        scope="openid email",
        redirect_uri=provider.redirect_uri,
        code_challenge_method="S256",
        default_timeout=_PATIENCE_S,
    )


def _metadata(session: Any, provider: Provider) -> dict[str, Any]:
    """What the provider says about itself (OpenID Connect Discovery 1.0). Raises UnavailableError."""
    try:
        about = _json(session, f"{provider.issuer.rstrip('/')}/.well-known/openid-configuration")
        if about.get("issuer") != provider.issuer:
            raise ValueError(f"it calls itself {about.get('issuer')!r}")
        for name in ("authorization_endpoint", "token_endpoint", "jwks_uri"):
            _endpoint(about, name)
    except (requests.RequestException, ValueError) as error:
        raise _away(provider, error) from error
    return about


def _json(session: Any, url: str, *, withhold_token: bool = True) -> dict[str, Any]:
    answer = session.request("GET", url, withhold_token=withhold_token, allow_redirects=False)
    answer.raise_for_status()
    found = answer.json()
    if not isinstance(found, dict):
        raise ValueError(f"{url} answers no JSON object")
    return found


def _endpoint(about: Mapping[str, Any], name: str) -> str:
    """An address of the provider's, encrypted unless all of it is on this machine."""
    url = str(about.get(name, ""))
    local = urlsplit(str(about["issuer"])).scheme == "http"
    if urlsplit(url).scheme != "https" and not (local and urlsplit(url).scheme == "http"):
        raise ValueError(f"{name} is {url!r}")
    return url


def _away(provider: Provider, error: Exception) -> UnavailableError:
    log.warning("openid.unavailable", provider=provider.issuer, why=f"{type(error).__name__}: {error}"[:200])
    return UnavailableError(
        _("the sign-in by %(host)s", host=provider.host), _("try again, or sign in by name and password")
    )
