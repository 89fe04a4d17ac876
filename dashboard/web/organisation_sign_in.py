"""An organisation's own sign-in (OpenID Connect Core 1.0, code flow with PKCE): the extra `organisation`.

Comes in: the provider's address and this client's name and secret, from the environment. Goes out: where to send a
browser, and, when it comes back, an address that the provider has verified and until when. Whether that address has an
account, and which troops, is asked of the book at every request.

To use it: MUSTERBOOK_OIDC_ISSUER, ..._CLIENT_ID and ..._CLIENT_SECRET in the environment,
https://NAME/sign-in/organisation/back registered with the provider, and for each account its address (`access add ...
--email`). It is a way through our own gate, not the framework's sign-in: that one lives inside the app, behind the
gate, and does not enforce the token's expiry. Here the sign-in ends when the ID token does.
"""

import json
import os
import secrets
import threading
import time
from dataclasses import dataclass
from functools import cached_property
from typing import Any
from urllib.parse import urlsplit

import requests
from authlib.integrations.requests_client import OAuth2Session  # type: ignore[import-untyped]
from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import KeySet

from pipelines.definitions.errors import Stop

BACK = "/sign-in/organisation/back"
NAMES = ("MUSTERBOOK_OIDC_ISSUER", "MUSTERBOOK_OIDC_CLIENT_ID", "MUSTERBOOK_OIDC_CLIENT_SECRET")
SIGNED_WITH = ["RS256", "RS384", "RS512", "PS256", "ES256", "ES384", "EdDSA"]  # never none, never a shared secret
LEEWAY_SECONDS = 30
TIMEOUT_SECONDS = 10
HERE = ("127.0.0.1", "localhost")


class NotVerified(Stop):
    """The provider's answer cannot be relied on."""


@dataclass
class Organisation:
    """One provider."""

    issuer: str
    client_id: str
    client_secret: str

    def __post_init__(self) -> None:
        parts = urlsplit(self.issuer)
        if parts.scheme != "https" and parts.hostname not in HERE:
            raise Stop(f"{NAMES[0]} must begin with https://.")
        self._lock = threading.Lock()

    @cached_property
    def _told(self) -> dict[str, Any]:
        """What the provider says of itself."""
        at = self.issuer.rstrip("/") + "/.well-known/openid-configuration"
        told: dict[str, Any] = requests.get(at, timeout=TIMEOUT_SECONDS).json()
        if told.get("issuer", "").rstrip("/") != self.issuer.rstrip("/"):
            raise NotVerified("The provider calls itself by another name than the one it was asked by.")
        return told

    def _session(self, origin: str) -> OAuth2Session:
        return OAuth2Session(
            self.client_id, self.client_secret, scope="openid email", redirect_uri=origin + BACK,
            code_challenge_method="S256",
        )  # fmt: skip

    def begin(self, origin: str) -> tuple[str, str]:
        """Where to send the browser, and what it must bring back with it."""
        verifier, nonce = secrets.token_urlsafe(48), secrets.token_urlsafe(24)
        session = self._session(origin)
        url, state = session.create_authorization_url(
            self._told["authorization_endpoint"], code_verifier=verifier, nonce=nonce
        )
        return url, json.dumps([state, nonce, verifier])

    def finish(self, origin: str, kept: str, query: str) -> tuple[str, float]:
        """The verified address, and when (seconds since 1970) the provider's word ends; raises NotVerified."""
        state, nonce, verifier = json.loads(kept)
        session = self._session(origin)
        try:
            token = session.fetch_token(
                self._told["token_endpoint"], authorization_response=f"{origin}{BACK}?{query}", state=state,
                code_verifier=verifier, timeout=TIMEOUT_SECONDS,
            )  # fmt: skip
            claims = self._claims(token["id_token"], nonce)
            claims |= self._address(session, claims)
        except NotVerified:
            raise
        except (JoseError, KeyError, ValueError, requests.RequestException) as fault:
            raise NotVerified(f"The provider's answer was refused: {type(fault).__name__}.") from fault
        except Exception as fault:
            if type(fault).__module__.startswith("authlib."):
                raise NotVerified(f"The provider's answer was refused: {type(fault).__name__}.") from fault
            raise
        if not claims.get("email") or claims.get("email_verified") is not True:
            raise NotVerified("The provider has not verified an address.")
        return str(claims["email"]), float(claims["exp"])

    def _address(self, session: OAuth2Session, claims: dict[str, Any]) -> dict[str, Any]:
        """The address, asked for where the ID token does not tell it; it must be of the same person."""
        if "email" in claims:
            return {}
        answer = session.get(self._told["userinfo_endpoint"], timeout=TIMEOUT_SECONDS).json()
        if answer.get("sub") != claims["sub"]:
            raise NotVerified("The provider told of somebody else.")
        return {name: answer.get(name) for name in ("email", "email_verified")}

    def _claims(self, text: str, nonce: str) -> dict[str, Any]:
        """What an ID token says, once it is found right (OpenID Connect Core 1.0, section 3.1.3.7)."""
        keys = KeySet.import_key_set(requests.get(self._told["jwks_uri"], timeout=TIMEOUT_SECONDS).json())
        token = jwt.decode(text, keys, algorithms=SIGNED_WITH)
        claims = dict(token.claims)
        said = claims.get("aud")
        audience = said if isinstance(said, list) else [said]
        is_right = (
            claims.get("iss") == self._told["issuer"]
            and self.client_id in audience
            and (len(audience) == 1 or claims.get("azp") == self.client_id)
            and secrets.compare_digest(str(claims.get("nonce", "")), nonce)
            and float(claims["exp"]) > time.time() - LEEWAY_SECONDS
        )
        if not is_right:
            raise NotVerified("The provider's answer was for somebody else, or is too old.")
        return claims


def from_environment() -> Organisation | None:
    """The provider that the environment names; None where it names none. Raises Stop where it does so in part."""
    stated = [os.environ.get(name, "") for name in NAMES]
    if not any(stated):
        return None
    if not all(stated):
        raise Stop(f"For the organisation's sign-in all of {', '.join(NAMES)} must be set.")
    return Organisation(*stated)
