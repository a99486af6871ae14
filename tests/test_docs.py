"""What the README says is so: its commands run, its answer is the real one, and CI runs its test command."""

import re
import shlex
from collections.abc import Sequence
from pathlib import Path

import pytest

from cli.__main__ import main
from service.routes import ROWS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
QUOTED = re.findall(r"`(quarterturn [^`]+)`", README)
TOOL_ROWS = re.findall(r"^\| [^|]+ \| `(quarterturn [^`]+)` \|$", README, re.MULTILINE)
PHRASE = "loose in, tight off at half fuel"


def block(marker: str) -> str:
    """The fenced block after `<!-- marker -->`."""
    found = re.search(rf"<!-- {marker} -->\n```\n(.*?)\n```", README, re.DOTALL)
    assert found is not None, marker
    return found[1]


TOUR = [part.splitlines() for part in re.split(r"^\$ ", block("tour"), flags=re.MULTILINE)[1:]]
"""The tour's commands, each with the lines shown under it."""


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Files that the README's commands write and read land here; so does the user's data."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "80")
    (tmp_path / "mine.toml").write_text("front_bar = 1.0\n", encoding="utf-8")


def test_the_job_comes_first_and_the_answer_on_the_first_screen() -> None:
    lines = README.splitlines()

    assert lines[0] == "# quarterturn" and lines[2].startswith("Someone who builds race set-ups")
    assert any(line.startswith(f'$ quarterturn "{PHRASE}"') for line in lines[:15])


def test_the_answer_in_the_readme_is_the_real_one(capsys: pytest.CaptureFixture[str]) -> None:
    shown = re.search(r"```text\n\$ [^\n]*\n(.*?)```", README, re.DOTALL)
    assert shown is not None
    assert main([PHRASE, "--no-color"]) == 0

    assert quoted(shown[1].splitlines(), capsys.readouterr().out) > 10


def quoted(lines: Sequence[str], told: str) -> int:
    """The quoted lines stand in what was told, in that order, where `...` is whatever is left out; how many
    they are. What was really told is shown where they do not."""
    real = [line.rstrip() for line in told.splitlines()]
    place, count = 0, 0
    for line in lines:
        if line.strip() == "...":
            continue
        assert line.rstrip() in real[place:], f"not told: {line}\nreally told:\n{told}"
        place += real[place:].index(line.rstrip()) + 1
        count += 1
    return count


@pytest.mark.parametrize("command", TOOL_ROWS)
def test_every_command_of_the_tour_runs(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(shlex.split(command)[1:]) == 0
    told = capsys.readouterr()
    assert told.out or "written" in told.err


@pytest.mark.parametrize("shown", TOUR, ids=[part[0] for part in TOUR])
def test_the_tour_s_output_is_the_real_one(shown: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    command, *lines = shown
    assert main(shlex.split(command)[1:]) == 0

    told = capsys.readouterr()
    assert quoted(lines, told.out + told.err) > 0


def test_the_tour_shows_every_tool() -> None:
    from cli.tools import ROWS as TOOLS

    for commands in (TOOL_ROWS, [part[0] for part in TOUR]):
        assert {shlex.split(command)[1] for command in commands} == {row[0] for row in TOOLS}
    assert any("--style" in part[0] for part in TOUR)


def test_ci_runs_the_readme_s_test_command() -> None:
    """The script takes the command out of the README; it must find exactly one line there."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")

    assert "<!-- test command -->" in script and "README.md" in script
    assert len(block("test command").splitlines()) == 1
    assert "pytest" in block("test command")
    assert len(block("job command").splitlines()) == 1


def test_both_doors_are_shown() -> None:
    paths = {row.path for row in ROWS}

    for path in re.findall(r"http://127\.0\.0\.1:\d+(/[\w/{}.-]+)", README):
        assert path in paths
    assert {"/v1/advice", "/openapi.json"} <= paths


def test_nothing_of_the_workplace_or_of_real_series_is_named() -> None:
    """No absolute path of a machine, no placeholder left."""
    assert "@@" not in README
    assert not re.search(r"/(home|root|work|Users)/", README)
