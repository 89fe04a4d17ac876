"""An organisation's own sign-in, against a provider that runs on this machine."""

import contextlib
import json
import re
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import httpx
import pytest
from leader_client import Somebody
from running_server import running
from trial import Trial

from dashboard.web.organisation_sign_in import NAMES, NotVerified, Organisation
from pipelines.accounts.accounts import Access
from pipelines.definitions.errors import Stop

PEOPLE = {
    "known": {"email": "Known@example.org", "email_verified": True},
    "stranger": {"email": "stranger@example.org", "email_verified": True},
    "unverified": {"email": "known@example.org", "email_verified": False},
    "nameless": {},
}
SECONDS = 8  # how long the provider's word holds


@pytest.fixture(scope="module")
def provider() -> Iterator[str]:
    """A provider that knows four people; its address."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    command = [
        str(Path(sys.executable).with_name("oidc-provider-mock")),
        "--port",
        str(port),
        "--token-max-age",
        str(SECONDS),
    ]
    for sub, claims in PEOPLE.items():
        command += ["--user-claims", json.dumps({"sub": sub, **claims})]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    at = f"http://127.0.0.1:{port}"
    for _tried in range(200):
        with contextlib.suppress(httpx.TransportError):
            httpx.get(f"{at}/.well-known/openid-configuration")
            break
        time.sleep(0.1)
    yield at
    process.terminate()
    process.wait()


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Access:
    """A book in which one address has an account."""
    access = Access(Trial(tmp_path_factory.mktemp("organisation")).book.folder)
    access.add("leader-0417", "leader", ["0417"], by="tests", email="known@example.org")
    return access


@pytest.fixture(scope="module")
def at(book: Access, provider: str) -> Iterator[str]:
    """The server of a book whose environment names the provider; its address."""
    with pytest.MonkeyPatch.context() as patch:
        for name, value in zip(NAMES, (provider, "musterbook", "secret"), strict=True):
            patch.setenv(name, value)
        with running(book.store.path.parent) as one:
            yield one.address


def there_and_back(at: str, sub: str, spoil: Callable[[str], str] = lambda url: url) -> httpx.Response:
    """Signs in at the provider as somebody; the dashboard's answer when the browser comes back."""
    with httpx.Client(timeout=60) as browser:
        away = browser.get(f"{at}/sign-in/organisation")
        assert away.status_code == 303
        asked = parse_qs(urlsplit(away.headers["location"]).query)
        assert asked["code_challenge_method"] == ["S256"]
        assert asked["nonce"]
        back = browser.post(away.headers["location"], data={"sub": sub})
        assert back.status_code == 302
        return browser.get(spoil(back.headers["location"]))


def test_a_verified_address_comes_in_and_goes_when_the_providers_word_ends(at: str) -> None:
    found = there_and_back(at, "known")
    assert (found.status_code, found.headers["location"]) == (303, "/")
    cookie = next(
        re.search(r"musterbook=([^;]+)", one) for one in found.headers.get_list("set-cookie") if "musterbook=" in one
    )
    assert cookie
    somebody = Somebody(at, cookie[1])
    assert somebody.get("/").status_code == 200
    time.sleep(SECONDS + 0.5)
    assert somebody.get("/").status_code == 303
    somebody.http.close()


@pytest.mark.parametrize("sub", ["stranger", "unverified", "nameless"])
def test_who_has_no_account_or_no_verified_address_does_not_come_in(at: str, sub: str) -> None:
    found = there_and_back(at, sub)
    assert found.status_code == 401
    assert not [one for one in found.headers.get_list("set-cookie") if one.startswith("musterbook=")]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda url: re.sub("state=[^&]+", "state=another", url),
        lambda url: re.sub("code=[^&]+", "code=another", url),
        lambda url: url.split("?")[0],
        lambda url: url.split("?")[0] + "?error=access_denied",
    ],
)
def test_an_answer_that_was_tampered_with_is_refused(at: str, spoil: Callable[[str], str]) -> None:
    assert there_and_back(at, "known", spoil).status_code == 401


def test_coming_back_without_having_been_sent_is_refused(at: str) -> None:
    assert httpx.get(f"{at}/sign-in/organisation/back?code=x&state=y").status_code == 401


def test_a_withdrawn_account_does_not_come_in(at: str, book: Access) -> None:
    book.withdraw("leader-0417", by="tests")
    assert there_and_back(at, "known").status_code == 401


def test_a_provider_without_tls_elsewhere_is_refused() -> None:
    with pytest.raises(Stop, match="https"):
        Organisation("http://sign-in.example.org", "x", "y")


def test_a_provider_that_calls_itself_otherwise_is_refused(provider: str) -> None:
    """It says of itself that it is 127.0.0.1, whatever it is asked by."""
    other = Organisation(f"{provider}/tenant/..", "x", "y")
    with pytest.raises((NotVerified, ValueError)):
        other.begin("http://127.0.0.1:8501")
