"""The commands of the command line: word, help, function. Those of the builder's tools are in `cli.tools`.

A command's function takes the arguments after its word and gives the exit code; it imports what it needs.
"""

from collections.abc import Callable
from typing import NamedTuple


class Row(NamedTuple):
    """One command. `run` takes the arguments after the word; it may raise Problem."""

    word: str
    help: str
    run: Callable[[list[str]], int]


def _rows() -> tuple[Row, ...]:
    from cli import catalogue, logs, serving, tools

    return (
        Row("serve", "run the service on this machine", serving.serve),
        Row("replay", "run saved logs again and show what differs", logs.replay),
        Row("log", "show or export what a session said", logs.log),
        Row("cars", "list, show or add car sheets", catalogue.cars),
        Row("tracks", "list, show or add track sheets", catalogue.tracks),
        *(Row(*row) for row in tools.ROWS),
    )


ROWS = _rows()


def row_of(word: str) -> Row | None:
    """The command of that word, if there is one."""
    return next((row for row in ROWS if row.word == word), None)
