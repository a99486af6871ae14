"""The command line itself: options, set-up files, words that are commands, errors and exit codes."""

import subprocess
import sys
from pathlib import Path

import pytest

from cli.__main__ import main
from cli.arguments import parser, read_setup, setup_of
from cli.page import Page, page_for
from cli.problems import EXITS, Problem
from cli.subcommands import ROWS, Row

ROOT = Path(__file__).parent.parent


def ask(*argv: str, given: str = "") -> "subprocess.CompletedProcess[str]":
    """Run the command line in a process of its own, with a pipe as its input."""
    return subprocess.run(
        [sys.executable, "-m", "cli", *argv],
        input=given,
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
    )


def test_help_names_every_command_and_every_exit_code() -> None:
    told = ask("--help")

    assert told.returncode == 0
    for row in ROWS:
        assert f"  {row.word} " in told.stdout
    for code, text in EXITS.items():
        assert f"  {code:<4} {text}" in told.stdout


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.word)
def test_every_command_has_help(row: Row, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main([row.word, "--help"])

    assert left.value.code == 0
    assert row.word in capsys.readouterr().out


def test_an_empty_pipe_is_an_error_on_stderr() -> None:
    told = ask(given="\n  \n")

    assert (told.returncode, told.stdout) == (2, "")
    assert "nothing to read" in told.stderr and "hint:" in told.stderr


def test_an_unknown_option_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["loose in", "--wedge"])

    assert left.value.code == 2
    assert "--wedge" in capsys.readouterr().err


def test_a_command_that_comes_late_is_not_read_as_a_complaint(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--json", "serve"]) == 2
    assert 'quarterturn ... -- "serve"' in capsys.readouterr().err


@pytest.mark.parametrize(
    "item", ["cross_weight", "cross_weight=", "=52", "cross_weight=firm", "cross_weight=nan"]
)
def test_a_value_that_is_no_value_is_named(item: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["loose in", "--set", item]) == 2
    assert item.partition("=")[2] in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.toml", "cross_weight = 52.5\nstagger = 1"),
        ("b.toml", "[setup]\ncross_weight = 52.5\nstagger = 1"),
        ("c.json", '{"cross_weight": 52.5, "stagger": 1}'),
        ("d.json", '{"setup": {"cross_weight": 52.5, "stagger": 1.0}}'),
    ],
)
def test_a_setup_file_is_read(name: str, text: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text(text, encoding="utf-8")

    assert read_setup(tmp_path / name) == {"cross_weight": 52.5, "stagger": 1.0}


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("no.toml", None, "cannot be read"),
        ("a.toml", b"cross_weight = ", "a.toml"),
        ("a.json", b"[1, 2]", "no table"),
        ("a.toml", b"cross_weight = true", "cross_weight = True is not a number"),
        ("a.toml", b'cross_weight = "x"', "cross_weight = 'x' is not a number"),
        ("a.toml", b"front_bar = 1.0  # \xb0F", "not UTF-8"),
        ("a.toml", b"\xff\xfe=", "not UTF-8"),
    ],
)
def test_a_wrong_setup_file_is_named(name: str, content: bytes | None, said: str, tmp_path: Path) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)

    with pytest.raises(Problem, match=said):
        read_setup(tmp_path / name)


def test_set_wins_over_the_file(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("cross_weight = 52.5\nstagger = 1.0", encoding="utf-8")

    args = parser().parse_args(["x", "--setup", str(tmp_path / "a.toml"), "--set", "stagger=1.25"])

    assert setup_of(args) == {"cross_weight": 52.5, "stagger": 1.25}


def test_text_may_come_in_pieces_between_options() -> None:
    args = parser().parse_intermixed_args(["loose", "in", "--json", "tight", "off"])

    assert (args.text, args.json) == (["loose", "in", "tight", "off"], True)


@pytest.mark.parametrize("url", ["localhost:8417", "ftp://x", "", "http://"])
def test_a_server_must_be_a_url(url: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["loose in", "--server", url]) == 2
    assert "is not a URL" in capsys.readouterr().err


def test_a_server_that_is_not_there_is_said_so(capsys: pytest.CaptureFixture[str]) -> None:
    """Port 9 (discard, RFC 863) on this machine: nothing listens there."""
    assert main(["loose in", "--server", "http://127.0.0.1:9"]) == 5
    assert "no answer from http://127.0.0.1:9" in capsys.readouterr().err


def test_db_and_server_do_not_go_together(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["loose in", "--server", "http://127.0.0.1:9", "--db", "x"]) == 2
    assert "--db and --server" in capsys.readouterr().err


class Screen:
    """A stream that says what it is: its encoding, and that it is a terminal."""

    def __init__(self, encoding: str, terminal: bool) -> None:
        self.encoding, self.terminal = encoding, terminal

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self.terminal


@pytest.mark.parametrize(
    ("screen", "env", "page"),
    [
        (Screen("utf-8", True), {"COLUMNS": "120"}, Page(120, True, True)),
        (Screen("utf-8", True), {"COLUMNS": "120", "NO_COLOR": "1"}, Page(120, True, False)),
        (Screen("utf-8", True), {"COLUMNS": "120", "TERM": "dumb"}, Page(120, True, False)),
        (Screen("utf-8", False), {"COLUMNS": "500"}, Page(200, True, False)),
        (Screen("cp1252", False), {"COLUMNS": "5"}, Page(40, False, False)),
        (Screen("ascii", False), {}, Page(80, False, False)),
        (Screen("nonsense", False), {"COLUMNS": "wide"}, Page(80, False, False)),
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="colour also depends on the console there")
def test_the_page_is_what_the_stream_is(screen: Screen, env: dict[str, str], page: Page) -> None:
    """NO_COLOR: no-color.org."""
    assert page_for(screen, environ=env) == page


def test_colour_can_be_turned_off() -> None:
    assert not page_for(Screen("utf-8", True), colour=False, environ={}).colour


def test_options_before_a_command_are_told_the_right_form(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--car", "tern-club", "compare", "--with", "x"]) == 2

    assert "quarterturn compare ..." in capsys.readouterr().err
