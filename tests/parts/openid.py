"""A small OpenID provider over loopback: Authlib's own provider side, with a real key, and one person who says yes.

It holds requests to the code flow with PKCE and to its client's secret. Not here: anything of ours that asks it.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any, ClassVar
from urllib.parse import parse_qsl, urlsplit

from authlib.oauth2.rfc6749 import AuthorizationServer, OAuth2Request
from authlib.oauth2.rfc6749.grants import AuthorizationCodeGrant
from authlib.oauth2.rfc6749.requests import BasicOAuth2Payload
from authlib.oauth2.rfc6750 import BearerTokenGenerator
from authlib.oauth2.rfc7636 import CodeChallenge
from authlib.oidc.core import OpenIDCode
from joserfc import jwt
from joserfc.jwk import KeySet, RSAKey

CLIENT, SECRET = "wickwatch", "what the provider gave with it"

Twist = Callable[[dict[str, Any], dict[str, Any]], str | None]


@dataclass
class OpenId:
    """The provider: who is signed in to it, and what it does wrong.

    `twist` may change header and claims of an ID token before it is signed, or give another token instead.
    """

    clock: Callable[[], datetime]
    redirect_uri: str = ""
    issuer: str = ""
    says: dict[str, Any] = field(default_factory=lambda: {"email": "mara@example.org", "email_verified": True})
    apart: bool = False  # claims about the person are at the userinfo endpoint only
    refuses: bool = False
    calls_itself: str = ""
    twist: Twist = lambda header, claims: None
    key: RSAKey = field(default_factory=lambda: RSAKey.generate_key(2048, {"kid": "one", "use": "sig", "alg": "RS256"}))
    codes: dict[str, Any] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)


@contextmanager
def running(clock: Callable[[], datetime]) -> Iterator[OpenId]:
    """A provider on a free port; its client's address to come back to is told later."""
    provider = OpenId(clock)
    server = _Server(provider)
    listener = ThreadingHTTPServer(
        ("127.0.0.1", 0), type("Bound", (_Handler,), {"provider": provider, "grants": server})
    )
    provider.issuer = f"http://127.0.0.1:{listener.server_address[1]}"
    thread = threading.Thread(target=listener.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield provider
    finally:
        listener.shutdown()
        listener.server_close()
        thread.join(5)


class _Client:
    """Our program, as the provider knows it."""

    def __init__(self, provider: OpenId) -> None:
        self.provider = provider

    def get_client_id(self) -> str:
        return CLIENT

    def check_redirect_uri(self, uri: str) -> bool:
        return uri == self.provider.redirect_uri

    def check_client_secret(self, secret: str) -> bool:
        return secret == SECRET

    def check_endpoint_auth_method(self, method: str, endpoint: str) -> bool:
        return method == "client_secret_basic"

    def check_response_type(self, wanted: str) -> bool:
        return wanted == "code"

    def check_grant_type(self, wanted: str) -> bool:
        return wanted == "authorization_code"

    def get_allowed_scope(self, scope: str) -> str:
        return scope


@dataclass
class _Code:
    """A code that was handed out, and what it is bound to."""

    redirect_uri: str
    scope: str
    nonce: str
    code_challenge: str
    code_challenge_method: str

    def get_redirect_uri(self) -> str:
        return self.redirect_uri

    def get_scope(self) -> str:
        return self.scope

    def get_nonce(self) -> str:
        return self.nonce

    def get_auth_time(self) -> None:
        return None

    get_acr = get_amr = get_auth_time


class _Request(OAuth2Request):  # type: ignore[misc]
    """One request as the library reads it."""

    def __init__(self, asked: _Handler) -> None:
        # The library holds requests to https; this machine's own loopback stands for that here.
        super().__init__(asked.command, f"https://loopback{asked.path}", headers=dict(asked.headers))
        self.payload = BasicOAuth2Payload(asked.fields)

    @property
    def form(self) -> Mapping[str, str]:
        return self.payload.data  # type: ignore[no-any-return]

    args = form


class _Server(AuthorizationServer):  # type: ignore[misc]
    def __init__(self, provider: OpenId) -> None:
        super().__init__(scopes_supported=["openid", "email"])
        self.provider = provider
        self.register_token_generator("default", BearerTokenGenerator(lambda **_: "an access token of this provider"))
        grant = type("Grant", (_Grant,), {"provider": provider})
        self.register_grant(grant, [CodeChallenge(required=True), _IdToken(provider)])

    def query_client(self, client_id: str) -> _Client | None:
        return _Client(self.provider) if client_id == CLIENT else None

    def save_token(self, token: object, request: object) -> None:
        """Nothing is asked of a token later than this."""

    def create_oauth2_request(self, request: _Handler) -> OAuth2Request:
        return _Request(request)

    def handle_response(self, status: int, body: object, headers: object) -> tuple[int, object, dict[str, str]]:
        return status, body, dict(headers)  # type: ignore[call-overload]

    def send_signal(self, *args: object, **kwargs: object) -> None:
        """Nobody listens."""


class _Grant(AuthorizationCodeGrant):  # type: ignore[misc]
    TOKEN_ENDPOINT_AUTH_METHODS: ClassVar = ["client_secret_basic"]
    provider: OpenId

    def save_authorization_code(self, code: str, request: OAuth2Request) -> None:
        asked = request.payload.data
        names = ("redirect_uri", "scope", "nonce", "code_challenge", "code_challenge_method")
        self.provider.codes[code] = _Code(*(asked[name] for name in names))

    def query_authorization_code(self, code: str, client: _Client) -> _Code | None:
        return self.provider.codes.pop(code, None)  # type: ignore[no-any-return]

    def delete_authorization_code(self, code: _Code) -> None:
        """It was taken out when it was asked for: each is good once."""

    def authenticate_user(self, code: _Code) -> str:
        return "somebody"


class _IdToken(OpenIDCode):  # type: ignore[misc]
    def __init__(self, provider: OpenId) -> None:
        super().__init__(require_nonce=True)
        self.provider = provider

    def exists_nonce(self, nonce: str, request: OAuth2Request) -> bool:
        return any(code.nonce == nonce for code in self.provider.codes.values())

    def resolve_client_private_key(self, client: _Client) -> RSAKey:
        return self.provider.key

    def get_client_claims(self, client: _Client) -> dict[str, Any]:
        now = int(self.provider.clock().timestamp())
        return {"iss": self.provider.issuer, "aud": [CLIENT], "iat": now, "exp": now + 300, "auth_time": now}

    def get_encode_header(self, client: _Client) -> dict[str, str]:
        return {"alg": "RS256", "kid": "one"}

    def generate_user_info(self, user: str, scope: str) -> dict[str, Any]:
        return {"sub": user} | ({} if self.provider.apart else self.provider.says)

    def encode_id_token(self, token: dict[str, Any], request: OAuth2Request) -> str:
        made: str = super().encode_id_token(token, request)
        seen = jwt.decode(made, self.provider.key)
        header, claims = dict(seen.header), dict(seen.claims)
        return self.provider.twist(header, claims) or jwt.encode(header, claims, self.provider.key)


class _Handler(BaseHTTPRequestHandler):
    provider: OpenId
    grants: _Server
    fields: Mapping[str, str]

    def do_GET(self) -> None:
        path = urlsplit(self.path)
        self.fields = dict(parse_qsl(path.query))
        self.provider.asked.append(path.path)
        issuer = self.provider.issuer
        match path.path:
            case "/.well-known/openid-configuration":
                names = {"authorization": "authorize", "token": "token", "userinfo": "userinfo"}
                ends = {f"{name}_endpoint": f"{issuer}/{end}" for name, end in names.items()}
                about = {"issuer": self.provider.calls_itself or issuer, "jwks_uri": f"{issuer}/keys", **ends}
                self._answer(200, about, {})
            case "/keys":
                self._answer(200, KeySet([self.provider.key]).as_dict(private=False), {})
            case "/userinfo" if self.headers["Authorization"] == "Bearer an access token of this provider":
                self._answer(200, {"sub": "somebody"} | self.provider.says, {})
            case "/authorize":
                user = None if self.provider.refuses else "somebody"
                grant = self.grants.get_consent_grant(self, user)
                self._answer(*self.grants.create_authorization_response(self, grant_user=user, grant=grant))
            case _:
                self._answer(404, {}, {})

    def do_POST(self) -> None:
        length = int(self.headers.get("content-length", "0"))
        self.fields = dict(parse_qsl(self.rfile.read(length).decode()))
        self.provider.asked.append(self.path)
        self._answer(*self.grants.create_token_response(self))

    def _answer(self, status: int, body: object, headers: Mapping[str, str] | Any) -> None:
        octets = json.dumps(body).encode() if isinstance(body, dict) else str(body or "").encode()
        self.send_response(status)
        for name, value in ({"Content-Type": "application/json"} | dict(headers)).items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(octets)))
        self.end_headers()
        self.wfile.write(octets)

    def log_message(self, *args: object) -> None:
        """Quiet."""
