"""Markup and formulas in every text that a troop or a feed can send are shown as the text they are, on every screen."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import settle
from playwright.sync_api import Browser
from running_server import Running, running
from trial import Trial

from dashboard.parts.screen_list import screens_of
from pipelines.accounts.accounts import Access

IMAGE = "<img~src=x~onerror=window.struck=1>"
SCRIPT = "<script>window.struck=1</script>"
LINK = "[press](javascript:window.struck=1)"
FORMULA = "=HYPERLINK(0)"
W1, W2 = "2027-02-14", "2027-02-21"


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Running, Access]]:
    """A served book in which every text is markup: names, participants, places, notes, documents, references, files."""
    trial = Trial(tmp_path_factory.mktemp("markup"))
    names = {
        "troops": f"troop level leader email phone\n0417 {IMAGE} {SCRIPT} {LINK} {FORMULA}\n0031 older {LINK} - -",
        "roster": f"troop participant registered_on\n0417 {SCRIPT} 2026-10-01\n0417 {IMAGE} 2026-10-01",
        "supply <img src=x onerror=window.struck=1>": "document troop item date packages kind\n"
        f"{SCRIPT} 0417 GLA 2027-02-06 96 opening\n{IMAGE} 0031 GLA 2027-02-06 24 opening",
        "remittances": "reference troop date amount state state_on reason\n"
        f"{IMAGE} 0417 2027-02-10 5.00 returned 2027-02-12 {LINK}",
        "adjustments": f"reference troop participant date amount reason\n{SCRIPT} 0417 {IMAGE} 2027-02-10 1.00 {IMAGE}",
    }
    for week in (W1, W2):
        names |= {
            f"stock {week}": f"troop week_ending item on_hand\n0417 {week} GLA 30\n0031 {week} GLA 1",
            f"cover {week}": f"troop week_ending prepared_by note\n0417 {week} {IMAGE} {SCRIPT}",
            f"families {week}": "troop week_ending participant item packages cash note\n"
            f"0417 {week} {IMAGE} GLA 9 - -\n0417 {week} {IMAGE} - - 3.00 {SCRIPT}\n0417 {week} {FORMULA} GLA 2 - -",
            f"stalls {week}": f"troop week_ending date place item packages cash participants note\n"
            f"0417 {week} {week} {IMAGE} GLA 5 - {SCRIPT} -\n0417 {week} {week} {IMAGE} - - 1.00 {SCRIPT} {LINK}",
            f"banked {week}": f"troop week_ending date amount slip note\n0417 {week} {week} 2.00 {IMAGE} {SCRIPT}",
            f"held {week}": "troop week_ending date item packages direction other_troop\n"
            f"0417 {week} {week} GLA 2 out {IMAGE}",
        }
    trial.send(**names)
    access = Access(trial.book.folder)
    access.add("boss", "coordinator", by="<b>tests</b>")
    access.add("leader", "leader", ["0417"], by="tests")
    access.store.note(SCRIPT, IMAGE, LINK, FORMULA)
    with running(trial.book.folder) as one:
        yield one, access


@pytest.mark.parametrize(("name", "role"), [("boss", "coordinator"), ("leader", "leader")])
def test_no_screen_runs_what_somebody_typed(
    hostile: tuple[Running, Access], browser: Browser, name: str, role: str
) -> None:
    served, access = hostile
    found = access.enter_by_link(access.link(name, by="tests"))
    assert isinstance(found, tuple)
    context = browser.new_context()
    context.set_default_timeout(30_000)
    context.add_cookies([{"name": "musterbook", "value": found[1], "url": served.address}])
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    seen = ""
    for screen in screens_of(role):
        page.goto(f"{served.address}/{Path(screen.file).stem}?troop=0417")
        settle(page)
        assert page.evaluate("window.struck") is None, screen.title
        assert page.locator("img[src=x], a[href^='javascript:'], [onerror]").count() == 0, screen.title
        seen += page.inner_text("body")
    assert not [url for url in asked if url.endswith("/x")]
    assert "window.struck=1" in seen, "the texts are shown, as texts"
    context.close()
