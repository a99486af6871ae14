"""The chat: at a prompt with typed keys, through a pipe, on a real terminal, on a dumb one."""

import os
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from prompt_toolkit.application.current import create_app_session
from prompt_toolkit.document import Document
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from cli.arguments import parser
from cli.chat import IDLE, MOST_LINES, Live, prompt_for, talk
from cli.client import Here
from cli.completer import Words, overlap
from cli.page import Page
from cli.session import Session
from cli.turns import turn

ROOT = Path(__file__).parent.parent
COMPLAINT = "loose in, tight off at half fuel"
PATIENCE = 30.0
"""Seconds after which a child process is given up; no test passes or fails by how fast it is."""


@pytest.fixture
def session(tmp_path: Path) -> Session:
    """A session with a logbook of its own."""
    return Session(Here(str(tmp_path / "log.db")), "test")


def typed(session: Session, keys: str, capsys: pytest.CaptureFixture[str]) -> str:
    """What the chat prints when these keys are pressed."""
    with create_pipe_input() as keyboard, create_app_session(input=keyboard, output=DummyOutput()):
        keyboard.send_text(keys)
        talk(session, prompt_for(input=keyboard, output=DummyOutput()), parser().parse_args([]))
    return capsys.readouterr().out


def test_a_complaint_is_answered_and_ctrl_d_leaves(
    session: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    shown = typed(session, f"{COMPLAINT}\r\x04", capsys)

    assert "Heard: loose in at half fuel; tight off at half fuel" in shown
    assert "Balance at half fuel" in shown


def test_ctrl_c_drops_the_line_and_stays(session: Session, capsys: pytest.CaptureFixture[str]) -> None:
    shown = typed(session, "flibber\x03a bit tight everywhere\r\x04", capsys)

    assert "flibber" not in shown
    assert "a little tight everywhere" in shown


def test_a_pasted_text_of_many_lines_is_one_complaint(
    session: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    """Bracketed paste: xterm control sequences, `ESC [ 200 ~` to `ESC [ 201 ~`."""
    shown = typed(session, "\x1b[200~loose in\ntight off\x1b[201~\r\x04", capsys)

    assert shown.count("Heard:") == 1
    assert "loose in; tight off" in shown


def test_quit_leaves_but_exit_is_a_part_of_the_corner(
    session: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(session, "tight\rexit\r/quit\rloose in\r", capsys)

    assert session.last is not None
    assert [s.phases for s in session.last.reading.symptoms] == [
        ["exit-first-throttle", "exit-full-throttle"]
    ]


def test_a_choice_can_be_taken_by_its_number(session: Session) -> None:
    page = Page(80)
    asked = turn(session, "tight", page)
    assert asked.exit == 3 and session.open

    answered = turn(session, "1", page)

    assert answered.exit == 0
    assert answered.advice is not None and answered.advice.changes


def test_a_what_if_off_the_step_goes_to_the_nearest_and_says_so(session: Session) -> None:
    """The demo car's springs come in steps of 10 lb/in, so "25 up" from 250 is 280 (half a step goes up)."""
    told = "\n".join(turn(session, "what if I go 25 up on the right rear?", Page(200)).lines)

    assert "Right-rear spring from 250 to 280 lb/in" in told and "Nothing is changed" in told
    assert "cannot be moved by 25: the nearest is 30, to 280" in told


@pytest.mark.parametrize(
    ("text", "words", "taken"),
    [
        ("loose on the br", "on the brakes", 9),
        ("tight o", "off", 1),
        ("tight ", "off", 0),
        ("", "loose", 0),
        ("LOO", "loose", 3),
    ],
)
def test_a_completion_takes_the_place_of_what_it_completes(text: str, words: str, taken: int) -> None:
    assert overlap(text, words) == taken


def test_completion_offers_commands_and_words_of_the_grammar() -> None:
    event = None
    commands = [c.text for c in Words().get_completions(Document("/s"), event)]  # type: ignore[arg-type]
    words = [c.text for c in Words().get_completions(Document("loo"), event)]  # type: ignore[arg-type]

    assert commands == ["/setup", "/set", "/style"]
    assert "loose" in words


def test_the_line_under_the_prompt_says_what_is_understood() -> None:
    live = Live()
    assert live.line() == IDLE
    live.warm_up(lambda: None)
    assert live.ready.wait(PATIENCE)

    said = {}
    for text in ("", "/he", "loose in", "loose in flibber ", "flibber"):
        live.text = lambda text=text: text
        said[text] = live.line()

    assert said == {
        "": IDLE,
        "/he": IDLE,
        "loose in": "loose in",
        "loose in flibber ": "loose in | not understood: flibber",
        "flibber": "listening",
    }


@pytest.mark.parametrize("columns", [20, 40, 120])
def test_the_line_under_the_prompt_is_broken_where_the_window_ends(columns: int) -> None:
    live = Live()
    live.columns = lambda: columns
    live.warm_up(lambda: None)
    assert live.ready.wait(PATIENCE)

    for text in ("", COMPLAINT):
        live.text = lambda text=text: text
        lines = live.shown().splitlines()
        assert all(len(line) <= columns for line in lines) and len(lines) <= MOST_LINES
        assert live.line().startswith(" ".join(lines))
        assert columns < 40 or " ".join(lines) == live.line()


def test_the_prompt_stands_before_anything_heavy_is_loaded() -> None:
    """What makes the chat quick to start, without a clock (that is in benchmarks/cold_start.py)."""
    script = (
        "import sys, cli.__main__, cli.subcommands\n"
        "from cli.arguments import parser\n"
        "from cli.chat import prompt_for\n"
        "from cli.pipe import session_of\n"
        "session_of(parser().parse_args([]))\n"
        "from prompt_toolkit.input import create_pipe_input\n"
        "from prompt_toolkit.output import DummyOutput\n"
        "with create_pipe_input() as keyboard:\n"
        "    prompt_for(input=keyboard, output=DummyOutput())\n"
        "heavy = ('numpy', 'pydantic', 'lark', 'starlette', 'uvicorn', 'sqlite3')\n"
        "print([m for m in heavy if m in sys.modules])"
    )
    told = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=True
    )

    assert told.stdout.strip() == "[]"


def run(*argv: str, given: str, home: Path, **env: str) -> "subprocess.CompletedProcess[str]":
    """The command line in a process of its own, with a pipe as its input and its own data folder."""
    return subprocess.run(
        [sys.executable, "-m", "cli", *argv],
        input=given,
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        env=os.environ | {"XDG_DATA_HOME": str(home), "PYTHONIOENCODING": "utf-8"} | env,
        timeout=PATIENCE,
    )


def test_each_line_of_a_pipe_is_a_turn(tmp_path: Path) -> None:
    told = run(given=f"{COMPLAINT}\n\ndid it: better in, same off\n/quit\nloose in\n", home=tmp_path)

    assert (told.returncode, told.stderr) == (0, "")
    assert [line for line in told.stdout.splitlines() if line.startswith("> ")] == [
        f"> {COMPLAINT}",
        "> did it: better in, same off",
        "> /quit",
    ]


def test_a_pipe_gives_the_largest_code_of_its_turns(tmp_path: Path) -> None:
    assert run(given="loose in\nflibber\n", home=tmp_path).returncode == 3


@pytest.mark.parametrize("errors", ["strict", "surrogateescape"])  # as the system's language decides
def test_a_line_that_is_not_utf8_is_named_and_the_others_are_answered(tmp_path: Path, errors: str) -> None:
    told = subprocess.run(
        [sys.executable, "-m", "cli"],
        input=b"\xef\xbb\xbftight in\ntight \xff off\nloose off\n",
        capture_output=True,
        cwd=ROOT,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path), "PYTHONIOENCODING": f"utf-8:{errors}"},
        check=False,
    )
    said = told.stdout.decode()

    assert told.returncode == 2
    assert "error: the text is not UTF-8 at character 7" in said
    assert "Heard: tight in\n" in said and "Heard: loose off\n" in said


def test_a_console_without_our_marks_gets_ascii(tmp_path: Path) -> None:
    told = run(COMPLAINT, given="", home=tmp_path, PYTHONIOENCODING="ascii")

    assert told.returncode == 0
    assert told.stdout.isascii() and " -> " in told.stdout and "?" not in told.stdout


def test_a_closed_pipe_is_left_quietly(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "cli", COMPLAINT], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT
    )
    with process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.close()

        assert process.stderr.read() == b""
        assert process.wait(PATIENCE) == 0


@pytest.mark.skipif(sys.platform == "win32", reason="sends a POSIX signal")
def test_ctrl_c_ends_a_pipe_without_a_trace(tmp_path: Path) -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "cli"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        cwd=ROOT,
        env=os.environ | {"XDG_DATA_HOME": str(tmp_path)},
    )
    assert process.stdin is not None and process.stdout is not None and process.stderr is not None
    process.stdin.write(b"loose in\n")
    process.stdin.flush()
    process.stdout.readline()  # it has begun to answer
    process.send_signal(signal.SIGINT)

    assert process.wait(PATIENCE) == 130
    assert process.stderr.read() == b""
    for stream in (process.stdin, process.stdout, process.stderr):
        stream.close()


class Terminal:
    """The chat on a real pseudo-terminal."""

    def __init__(self, home: Path, *options: str, **env: str) -> None:
        import pty

        self.mine, theirs = pty.openpty()
        self.seen = ""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "cli", *options],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            cwd=ROOT,
            start_new_session=True,
            env=os.environ
            | {"XDG_DATA_HOME": str(home), "TERM": "xterm", "COLUMNS": "100", "LINES": "40"}
            | env,
        )
        os.close(theirs)

    def send(self, keys: str) -> None:
        """Press keys."""
        os.write(self.mine, keys.encode())

    def wait_for(self, wanted: str, redraw: bool = False) -> str:
        """Read until `wanted` is on the screen; what came since, without control sequences.

        The prompt writes only the cells that change, so a text on it is seen whole only when all is drawn
        again: `redraw` asks for that (Ctrl-L) while it waits."""
        end, came = time.monotonic() + PATIENCE, ""
        while wanted not in plain(came):
            assert time.monotonic() < end, f"no {wanted!r} in {plain(came)!r}"
            if redraw:
                self.send("\x0c")
                came = "".join(iter(lambda: self.read(0.5), ""))  # until it has fallen silent
            else:
                came += self.read(0.5)
        return plain(came)

    def read(self, seconds: float = PATIENCE) -> str:
        """What the chat writes within some seconds; empty when it has ended (Linux tells with an error)."""
        if not select.select([self.mine], [], [], seconds)[0]:
            return ""
        try:
            text = os.read(self.mine, 65536).decode("utf-8", "replace")
        except OSError:
            return ""
        if "\x1b[6n" in text:
            self.send("\x1b[1;1R")  # it asks where the cursor is
        return text


def plain(text: str) -> str:
    """The text without control sequences."""
    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[=>]|[\r\x08]", "", text)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    """A chat on a terminal, ended afterwards."""
    opened = Terminal(tmp_path)
    yield opened
    close(opened)


def close(terminal: Terminal) -> None:
    """End the chat and let go of its terminal."""
    terminal.process.kill()
    terminal.process.wait()
    os.close(terminal.mine)


@pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX pseudo-terminal")
def test_a_real_terminal(terminal: Terminal) -> None:
    terminal.wait_for("Say what the car does")
    terminal.send("a bit tight in")
    terminal.wait_for("a little tight in", redraw=True)  # the reading, under the prompt
    terminal.send("\r")
    assert "Heard: a little tight in" in terminal.wait_for("/why")
    terminal.send("half a line\x03")
    terminal.send("/lo\t")
    terminal.wait_for("/log", redraw=True)
    terminal.send("\x03\x04")
    while terminal.read():
        pass

    assert terminal.process.wait(PATIENCE) == 0


@pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX pseudo-terminal")
@pytest.mark.parametrize(
    ("options", "env", "coloured"),
    [((), {}, True), (("--no-color",), {}, False), ((), {"NO_COLOR": "1"}, False)],
)
def test_the_prompt_has_colour_only_where_it_may(
    options: tuple[str, ...], env: dict[str, str], coloured: bool, tmp_path: Path
) -> None:
    """SGR codes 30 to 49 and 90 to 107 choose colours (ECMA-48); the menu of completions has some."""
    terminal = Terminal(tmp_path, *options, **{"NO_COLOR": "", **env})
    try:
        terminal.wait_for("Tab completes")
        terminal.send("/l\t")
        end, raw = time.monotonic() + PATIENCE, ""
        while "/learned" not in plain(raw) and time.monotonic() < end:
            raw += terminal.read(0.5)
    finally:
        close(terminal)

    codes = {int(code) for found in re.findall(r"\x1b\[([0-9;]+)m", raw) for code in found.split(";")}
    assert "/learned" in plain(raw)
    assert any(30 <= code <= 49 or 90 <= code <= 107 for code in codes) == coloured, codes


@pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX pseudo-terminal")
def test_a_dumb_terminal_gets_no_control_sequences(tmp_path: Path) -> None:
    terminal = Terminal(tmp_path, TERM="dumb")
    try:
        terminal.send("loose in\n\x04")
        raw = ""
        while chunk := terminal.read():
            raw += chunk
    finally:
        close(terminal)

    assert "Balance at half fuel" in raw
    assert "\x1b" not in raw
    assert raw.count("loose in\r\n") == 2  # once as typed, once as heard
