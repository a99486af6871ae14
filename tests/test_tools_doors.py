"""The builder's tools through both doors: the same answer, the one shape, clear errors; the sheet in a
browser."""

import json
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from html.parser import HTMLParser
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import Any

import pytest
from served import Running, served
from test_overlay import CHROMIUM, QUIET

from cli.__main__ import main
from engine.physics.gas import hot_gauge
from service.desk import open_desk
from service.library import Library
from service.logbook import Logbook
from service.settings import Settings
from service.tools import TOOLS
from service.words import PHASE, STAGE

ROOT = Path(__file__).parent.parent
ASKED: dict[str, dict[str, Any]] = {
    "comparison": {"setup": {"front_bar": 1.0}, "other": {"nose_weight": 51.5}},
    "package": {"run": {"front_bar": 1.0}},
    "carry-over": {"to": "tern-challenge"},
    "start": {},
    "tyres": {"wear": {"RF": 14, "RR": 21}, "targets": {"RF": 38}},
    "gears": {"rpm": 8000},
    "tape": {},
    "stagger": {},
    "tests": {"runs": 2},
}
TYPED = {
    "package": ["package", "front_bar=1.0"],
    "carry-over": ["carry-over", "tern-challenge"],
    "gears": ["gears", "--rpm", "8000"],
    "tyres": ["tyres", "--wear", "RF=14", "--wear", "RR=21", "--target", "RF=38"],
    "tests": ["tests", "--runs", "2"],
}


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A service on a real socket."""
    home = tmp_path_factory.mktemp("tools")
    desk = open_desk(Settings(port=0), Library(home), Logbook(home / "l.sqlite3"))
    with served(desk) as running:
        yield running


@dataclass(frozen=True)
class Said:
    """What a command answered."""

    code: int
    out: str
    err: str


def typed(*words: str) -> Said:
    """The command line's own entrance, in this process: only its start is left out."""
    out, err = (TextIOWrapper(BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    with redirect_stdout(out), redirect_stderr(err):
        code = main(list(words))
    for stream in (out, err):
        stream.seek(0)
    return Said(code, out.read(), err.read())


def test_a_tool_runs_as_a_program(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "cli", "stagger", "--json", "--db", str(tmp_path / "l.db")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    assert json.loads(ran.stdout)["tool"] == "stagger"


def test_every_tool_is_asked_here() -> None:
    assert set(ASKED) == set(TOOLS)


@pytest.mark.parametrize("name", sorted(ASKED))
def test_a_tool_answers_over_http(service: Running, name: str) -> None:
    answer = service.post(f"/v1/{name}", ASKED[name])

    assert answer.status == 200, answer.body
    body = answer.json()
    assert body["lines"] or body["changes"]
    for change in body["changes"]:
        assert body["setup"][change["setting"]] == change["to"] != change["from"] or name == "comparison"
    for line in body["lines"]:
        said = [float(n) for n in re.findall(r"(?<![\w-])\d+(?:\.\d+)?", line["text"])]
        known = [abs(v) for v in line["numbers"].values()]
        for number in said:
            assert any(
                abs(number - v) <= 0.5 * 10 ** -_decimals(line["text"], number) + 1e-9 for v in known
            ), line


def _decimals(text: str, number: float) -> int:
    """How many decimals a number is printed with in a text."""
    for found in re.findall(r"\d+(?:\.\d+)?", text):
        if float(found) == number:
            return len(found.partition(".")[2])
    return 0


@pytest.mark.parametrize("name", sorted(TYPED))
def test_the_command_line_gives_what_the_service_gives(service: Running, name: str) -> None:
    there = service.post(f"/v1/{name}", ASKED[name]).json()

    here = typed(*TYPED[name], "--json")
    assert here.code == 0, here.err
    assert json.loads(here.out) == there


def test_next_runs_know_what_a_session_taught(service: Running) -> None:
    """A session without a report says so; after one, the runs are told with what it taught."""
    name = service.post("/v1/sessions", {}).json()["session"]
    fresh = service.post("/v1/tests", {"session": name, "runs": 8}).json()
    assert fresh["lines"][0]["kind"] == "tests-new"

    for text in ("tight in the middle", "done", "much better but still a touch tight in the middle"):
        assert service.post(f"/v1/sessions/{name}/messages", {"text": text}).status == 200
    taught = service.post("/v1/tests", {"session": name, "runs": 8}).json()
    assert taught["lines"][0]["kind"] == "tests-known"
    assert taught["lines"][1:] != fresh["lines"][1:]


def test_a_value_outside_the_sheet_is_named(service: Running) -> None:
    answer = service.post("/v1/package", {"run": {"front_bar": 9.0}})

    assert answer.status == 422
    assert "front_bar" in answer.json()["error"]["message"] and "9" in answer.json()["error"]["message"]
    here = typed("package", "front_bar=9")
    assert here.code == 2 and "front_bar" in here.err


def test_cold_pressures_follow_the_gas_law(service: Running) -> None:
    """Absolute pressure and temperature (worked examples, section J); warming the answer gives the target
    back."""
    body = service.post("/v1/tyres", {"targets": {"RF": 38.0}, "air": 70.0, "hot": 180.0}).json()

    cold = body["lines"][0]["numbers"]["cold"]
    psi = 6894.757293168
    kelvin = [(f - 32) / 1.8 + 273.15 for f in (70.0, 180.0)]
    assert float(hot_gauge(cold * psi, *kelvin)) / psi == pytest.approx(38.0, abs=1e-6)


class Tags(HTMLParser):
    """Collects tags and addresses."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen += [(tag, f"{name}={value}") for name, value in attrs] or [(tag, "")]


def test_the_sheet_carries_the_answer_and_asks_for_nothing(service: Running) -> None:
    text = service.post("/v1/sheet", {"text": "loose <b>in</b>, tight off", "format": "html"}).json()["text"]

    tags = Tags()
    tags.feed(text)
    assert not [
        t
        for t in tags.seen
        if t[0] in ("script", "img", "link", "iframe") or t[1].startswith(("src=", "href="))
    ]
    assert "<svg" in text and "&lt;b&gt;" in text and "<!--" not in text


def test_a_set_up_goes_out_and_comes_back(tmp_path: Path) -> None:
    for name in ("mine.toml", "mine.json"):
        out = tmp_path / name
        assert typed("setup", "--set", "front_bar=1.0", "--out", str(out)).code == 0
        again = typed("compare", "base", str(out), "--json")
        assert again.code == 0, again.err
        assert [c["setting"] for c in json.loads(again.out)["changes"]] == ["front_bar"]


@pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine")
def test_the_sheet_prints_to_one_page(tmp_path: Path) -> None:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    out = tmp_path / "sheet.html"
    assert (
        typed(
            "sheet", "loose in, tight off at half fuel", "--out", str(out), "--db", str(tmp_path / "l.db")
        ).code
        == 0
    )
    with playwright.sync_playwright() as player:
        browser = player.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        page = browser.new_page(viewport={"width": 900, "height": 1100})
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(out.as_uri())
        printed = page.pdf(prefer_css_page_size=True)
        browser.close()
    assert asked == [out.as_uri()]
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) == 1


@pytest.mark.parametrize(
    ("given", "missing"),
    [
        ({"wear": {"RF": 14}}, [("missing-wear", "right rear")]),
        ({"wear": {"RF": 14, "RR": 15}}, []),
        (
            {"temperatures": {"RF": [200, 220, 200]}},
            [
                ("missing-wear", "right front and right rear"),
                ("missing-temperatures", "left front, left rear and right rear"),
            ],
        ),
        (
            {"wear": {"RF": 14, "RR": 15}, "pressures": {"RF": 40, "RR": 38}},
            [("missing-pressures", "left front and left rear")],
        ),
        ({"targets": {"RF": 38}}, []),
    ],
)
def test_one_tyre_only_says_which_readings_are_missing(
    service: Running, given: dict[str, Any], missing: list[tuple[str, str]]
) -> None:
    lines = service.post("/v1/tyres", given).json()["lines"]

    said = [(line["kind"], line["text"]) for line in lines if line["kind"].startswith("missing-")]
    assert [kind for kind, _ in said] == [kind for kind, _ in missing]
    for (_, text), (_, tyres) in zip(said, missing, strict=True):
        assert f"of the {tyres} " in text


def test_what_stays_outside_its_band_is_named_by_place_and_stage(service: Running) -> None:
    """Held with only the toe free, a stiffer right rear cannot be paid for."""
    kept = [s["key"] for s in service.get("/v1/cars/tern-premier").json()["settings"]]
    asked = {"run": {"spring_rr": 300}, "locked": [k for k in kept if k not in ("spring_rr", "toe_front")]}
    body = service.post("/v1/package", asked).json()

    assert not body["met"] and body["off"]
    told = " ".join(line["text"] for line in body["lines"] if line["kind"] == "held-outside")
    for off in body["off"]:
        assert PHASE[off["channel"].split("/")[1]] in told and STAGE[off["channel"].split("/")[2]] in told
