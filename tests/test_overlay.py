"""The overlay page in a real browser: live, self-contained, escaped, readable at 400 and 1,200 px."""

import re
import shutil
from collections.abc import Iterator
from typing import Any

import pytest
from served import Running, served

from grammar.intent import PHASES
from service.conversation import converse
from service.desk import open_desk
from service.library import Library
from service.logbook import Logbook
from service.overlay import overlay_page
from service.settings import Settings
from service.words import PHASE, STAGE

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
browsing = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
QUIET = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LOOSE_TIGHT = "loose in, tight off at half fuel"
TOKEN = "a-token-of-sixteen-or-more"


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The service with a token, so that the page must carry it too."""
    home = tmp_path_factory.mktemp("overlay")
    desk = open_desk(Settings(port=0, token=TOKEN), Library(home), Logbook(home / "l.sqlite3"))
    with served(desk) as running:
        yield running


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A real Chromium."""
    with playwright.sync_playwright() as player:
        opened = player.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield opened
        opened.close()


def opened(browser: Any, service: Running, session: str, width: int = 400) -> tuple[Any, list[str]]:
    """The page of a session, and every address it asks for or complains about."""
    page = browser.new_page(viewport={"width": width, "height": 800})
    seen: list[str] = []
    page.on("request", lambda request: seen.append(request.url))
    page.on("pageerror", lambda error: seen.append(f"error {error}"))
    page.on("console", lambda line: seen.append(line.text) if "Content Security" in line.text else None)
    page.goto(f"http://127.0.0.1:{service.port}/overlay/{session}#token={TOKEN}")
    return page, seen


def say(service: Running, session: str, text: str) -> Any:
    """A word in the session, as the chat in another process would write it."""
    book = Logbook(service.desk.logbook.path)
    advice = converse(book, service.desk.library, session, text)
    book.close()
    return advice


@browsing
@pytest.mark.parametrize("width", [400, 1200])
def test_the_page_shows_what_was_said_and_answered(browser: Any, service: Running, width: int) -> None:
    page, seen = opened(browser, service, f"shown-{width}", width)
    assert "Waiting" in page.inner_text("#status")
    advice = say(service, f"shown-{width}", LOOSE_TIGHT)
    page.wait_for_selector("#changes li", timeout=10_000)

    assert page.inner_text("#words") == LOOSE_TIGHT
    lines = page.locator("#changes li").all_inner_texts()
    assert len(lines) == len(advice.changes)
    for line, change in zip(lines, advice.changes, strict=True):
        assert change.label in line and f"{change.to:g}" in line.replace("\u2212", "-")
    assert page.inner_text("#caution") == " ".join(advice.cautions) != ""
    assert page.locator("#bars rect.now").count() == page.locator("#bars rect.then").count() >= 3
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert all(url.startswith(f"http://127.0.0.1:{service.port}/") for url in seen), seen


@browsing
def test_it_follows_a_chat_in_another_process(browser: Any, service: Running) -> None:
    say(service, "live", "tight in the middle")
    page, _ = opened(browser, service, "live")
    page.wait_for_selector("#changes li", timeout=10_000)
    say(service, "live", "loose off late in the run")

    page.locator("#words", has_text="loose off late in the run").wait_for(timeout=10_000)


@browsing
def test_the_balance_stays_on_its_stage_when_a_report_names_none(browser: Any, service: Running) -> None:
    say(service, "report", "loose off late in the run")
    page, _ = opened(browser, service, "report")
    page.wait_for_selector("#changes li", timeout=10_000)
    say(service, "report", "did it: same off")
    page.locator("#words", has_text="did it: same off").wait_for(timeout=10_000)

    assert page.inner_text("#heard").splitlines() == ["done", "no change off"]
    assert page.inner_text("#balance-title") == f"Balance {STAGE['late']}"
    assert page.locator("#bars rect.then").count() >= 3


@browsing
def test_a_stop_stands_out_and_is_said_once(browser: Any, service: Running) -> None:
    advice = say(service, "stop", "the brake pedal went to the floor")
    page, _ = opened(browser, service, "stop")
    page.wait_for_selector("#list-plate.stop", timeout=10_000)

    assert advice.status == "stop"
    assert page.inner_text("#list-plate").count(advice.summary) == 1
    assert page.locator("#changes li").count() == 0


@browsing
def test_a_question_shows_what_can_be_answered(browser: Any, service: Running) -> None:
    advice = say(service, "asked", "it is loose")
    page, _ = opened(browser, service, "asked")
    page.wait_for_selector("#notes li", timeout=10_000)

    assert page.inner_text("#summary") == advice.questions[0].text
    assert page.locator("#notes li").all_inner_texts() == [c.label for c in advice.questions[0].choices]


@browsing
def test_notes_that_have_no_room_are_counted(browser: Any, service: Running) -> None:
    text = (
        "really tight in the middle on the long run, snaps loose when I pick up the throttle, right front "
        "is at 42 percent and water is 265, not the springs, only what we can do on a stop"
    )
    advice = say(service, "notes", text)
    page, _ = opened(browser, service, "notes")
    page.wait_for_selector("#notes li", timeout=10_000)

    *shown, last = page.locator("#notes li").all_inner_texts()
    assert shown == advice.notes[:2] and len(advice.notes) > 3
    assert last == f"and {len(advice.notes) - 2} notes more with the answer"


@browsing
def test_markup_in_a_complaint_stays_text(browser: Any, service: Running) -> None:
    text = "tight in <img src=x onerror=document.title='hit'><b>off</b>"
    say(service, "markup", text)
    page, seen = opened(browser, service, "markup")
    page.wait_for_selector("#said-plate", timeout=10_000)

    assert page.inner_text("#words") == text
    assert page.locator("#words *").count() == 0
    assert page.title() == "quarterturn overlay"
    assert not [line for line in seen if line.startswith("error")]


@browsing
def test_text_stands_on_a_plate_on_any_video(browser: Any, service: Running) -> None:
    """Contrast of text on its plate over white and black: at least 4.5 : 1 (WCAG 2.1 1.4.3, from memory)."""
    page, _ = opened(browser, service, "plates")
    say(service, "plates", LOOSE_TIGHT)
    page.wait_for_selector("#changes li", timeout=10_000)

    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgba(0, 0, 0, 0)"
    plate = numbers(page.evaluate("getComputedStyle(document.querySelector('section')).backgroundColor"))
    for selector in ("#words", "#heard li", "#changes li", "#changes .note", "#caution", "h2"):
        ink = numbers(page.evaluate(f"getComputedStyle(document.querySelector('{selector}')).color"))
        for video in (255.0, 0.0):
            under = [plate[3] * part + (1 - plate[3]) * video for part in plate[:3]]
            assert contrast(ink[:3], under) >= 4.5, (selector, video)


def numbers(colour: str) -> list[float]:
    """Red, green, blue (0 to 255) and alpha of a computed colour."""
    found = [float(part) for part in re.findall(r"[\d.]+", colour)]
    return found if len(found) == 4 else [*found, 1.0]


def contrast(one: list[float], other: list[float]) -> float:
    """Contrast ratio of two colours (WCAG 2.1 definition)."""
    bright, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


def luminance(colour: list[float]) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.1 definition)."""
    parts = [p / 255 for p in colour]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_the_page_says_what_the_answers_say() -> None:
    page, _ = overlay_page()

    assert all(f'{stage}: "{words}"' in page for stage, words in STAGE.items())
    assert all(f'["{phase}", "{PHASE[phase]}"]' in page for phase in PHASES[:3])
    assert all(f'["{phase}", "off, ' in page for phase in PHASES[3:])  # shorter, so that the bars have room


def test_the_page_is_one_file_that_asks_nobody_else(service: Running) -> None:
    answer = service.get("/overlay/anything")
    page, policy = overlay_page()

    assert answer.body.decode() == page
    assert answer.headers["content-security-policy"] == policy
    assert "default-src 'none'" in policy and "unsafe" not in policy
    assert not re.findall(
        r"(?:src|href)=\"(?!data:)|@import|innerHTML|insertAdjacentHTML|document\.write", page
    )
    addresses = set(re.findall(r"https?://[^\s\"']+", page))
    assert addresses == {"http://www.w3.org/2000/svg"}  # the name of SVG, asked for by nobody
