"""The chat at a terminal: prompt, completion, history; what is understood so far stands under the prompt."""

import argparse
import os
import sys
import threading
from typing import Any

from cli.output import page_of, write_lines
from cli.page import Page
from cli.pipe import pipe, session_of
from cli.session import PREFIX, Session
from cli.turns import turn as answer

PROMPT = "> "
IDLE = "Tab completes; /help lists what else there is; Ctrl-D leaves"
MOST_LINES = 3
"""Lines under the prompt at most: in a narrow window a long complaint would push the prompt away."""
GREETING = "Say what the car does, for example: loose in, tight off at half fuel"


def chat(args: argparse.Namespace) -> int:
    """Talk until Ctrl-D or /quit; the exit code is 0 (only a pipe reports its turns)."""
    if os.environ.get("TERM") == "dumb" or not sys.stdout.isatty() or args.json:
        return plain(args)
    try:
        prompt = prompt_for(history=history(), **colours(args))
    except no_console():
        return plain(args)
    session = session_of(args)
    page = page_of(args)
    greeting = f"This is session {session.name}; to go on with it another time: --session {session.name}"
    write_lines([*page.wrap(GREETING), *(page.ink("faint", line) for line in page.wrap(greeting)), ""])
    talk(session, prompt, args)
    return 0


def colours(args: argparse.Namespace) -> dict[str, Any]:
    """How many colours the prompt may use: with --no-color none. (NO_COLOR prompt_toolkit knows itself.)"""
    from prompt_toolkit.output import ColorDepth

    return {"color_depth": ColorDepth.MONOCHROME} if args.no_color else {}


def no_console() -> tuple[type[Exception], ...]:
    """What is raised in a window that is no console to prompt_toolkit."""
    if sys.platform == "win32":
        from prompt_toolkit.output.win32 import NoConsoleScreenBufferError

        return (OSError, RuntimeError, NoConsoleScreenBufferError)
    return (OSError, RuntimeError)


def talk(session: Session, prompt: Any, args: argparse.Namespace) -> None:
    """The loop: ask, answer, until the user leaves."""
    while True:
        try:
            text = prompt.prompt(PROMPT)
        except KeyboardInterrupt:
            continue
        except EOFError:
            return
        if not text.strip():
            continue
        try:
            turn = answer(session, text, page_of(args))
        except KeyboardInterrupt:
            write_lines(["Stopped."])
            continue
        write_lines([*session.client.notices(), *turn.lines, ""])
        if turn.leave:
            return


def plain(args: argparse.Namespace) -> int:
    """A terminal that cannot move its cursor: ask with a bare prompt, line by line."""

    def lines() -> Any:
        while True:
            sys.stdout.write(PROMPT)
            sys.stdout.flush()
            line = sys.stdin.readline()
            if not line:
                return
            yield line

    return pipe(args, lines(), echo=False)


def prompt_for(*, history: Any = None, **screen: Any) -> Any:
    """The prompt. `screen` may hold prompt_toolkit's `input` and `output`."""
    from prompt_toolkit import PromptSession
    from prompt_toolkit.shortcuts import CompleteStyle
    from prompt_toolkit.styles import Style

    from cli.completer import Words

    live = Live()
    prompt: PromptSession[str] = PromptSession(
        history=history,
        completer=Words(),
        complete_while_typing=False,
        complete_in_thread=True,
        complete_style=CompleteStyle.MULTI_COLUMN,
        bottom_toolbar=live.shown,
        prompt_continuation="  ",
        style=Style.from_dict({"bottom-toolbar": "noreverse", "bottom-toolbar.text": ""}),
        reserve_space_for_menu=4,
        **screen,
    )
    prompt.app.after_render += lambda app: live.warm_up(app.invalidate)
    live.text = lambda: prompt.default_buffer.text
    live.columns = lambda: prompt.app.output.get_size().columns
    return prompt


class Live:
    """The line under the prompt: what has been understood of the text so far; read only when it changed."""

    def __init__(self) -> None:
        self.text: Any = lambda: ""
        self.columns: Any = lambda: 80
        self._seen: tuple[str, str] = ("", "")
        self.ready = threading.Event()
        self._started = False

    def shown(self) -> str:
        """The line, broken where the window ends."""
        return "\n".join(Page(width=max(1, self.columns())).wrap(self.line())[:MOST_LINES])

    def line(self) -> str:
        """The words to show: what is understood, or what can be done when nothing is typed."""
        text = self.text()
        if not text.strip() or text.startswith(PREFIX):
            return IDLE
        if not self.ready.is_set():
            return "..."
        if text != self._seen[0]:
            self._seen = (text, self._words(text))
        return self._seen[1]

    def warm_up(self, then: Any) -> None:
        """Load what reading needs, in the background, once the prompt stands."""
        if not self._started:
            self._started = True
            threading.Thread(target=self._warm, args=(then,), daemon=True).start()

    def _warm(self, then: Any) -> None:
        self._words("loose in")
        self.ready.set()
        then()

    def _words(self, text: str) -> str:
        from cli.client import Here
        from cli.hearing import words_for

        try:
            reading = Here().read(text)
        except (
            Exception
        ):  # half a sentence may be anything; the answer to the whole one will say what is wrong
            return ""
        words = words_for(reading)
        unfinished = len(text) if not text[-1].isspace() else -1
        unknown = ", ".join(span.text for span in reading.unknown if span.end != unfinished)
        parts = [words or "listening", f"not understood: {unknown}" if unknown else ""]
        return " | ".join(part for part in parts if part)


def history() -> Any:
    """What was typed before, from a file in the user's data folder; kept in memory when there can be none."""
    from platformdirs import user_data_path
    from prompt_toolkit.history import FileHistory, InMemoryHistory

    path = user_data_path("quarterturn", appauthor=False) / "typed.txt"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.open("ab").close()
    except OSError:
        return InMemoryHistory()
    return FileHistory(str(path))
