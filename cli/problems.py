"""What can go wrong at the command line, and the exit codes.

Every error a user can cause becomes a `Problem`: one sentence, perhaps a hint, and the exit code.
"""

import traceback
from collections.abc import Mapping
from typing import Any

ANSWERED, DIFFERENT, BAD_INPUT, OPEN, NOT_POSSIBLE, UNREACHABLE = range(6)
DEFECT, INTERRUPTED = 70, 130
EXITS = {
    ANSWERED: "answered: a change list, nothing to change, or stop the car",
    DIFFERENT: "a replay found a difference",
    BAD_INPUT: "bad input: unknown option, car, track or setting; value outside the sheet; empty text",
    OPEN: "not understood, or a question must be answered first",
    NOT_POSSIBLE: "the wishes and limits cannot all hold",
    UNREACHABLE: "the service or the logbook cannot be reached",
    DEFECT: "a defect of the program itself",
    INTERRUPTED: "interrupted with Ctrl-C",
}
BY_STATUS = {
    "change": ANSWERED,
    "no_change": ANSWERED,
    "stop": ANSWERED,
    "question": OPEN,
    "not_possible": NOT_POSSIBLE,
}
"""Exit code for the status of an answer."""


def defect(error: Exception) -> "Problem":
    """What to say about an error that nobody foresaw."""
    place = traceback.extract_tb(error.__traceback__)[-1]
    where = f"{place.filename}, line {place.lineno}"
    message = f"a defect of quarterturn: {type(error).__name__}: {error} ({where})"
    return Problem(message, "please report it with what was typed", code="broken", exit=DEFECT)


class Problem(Exception):
    """An error to show. `code` is the service's error code, `exit` the program's exit code."""

    def __init__(
        self, message: str, hint: str | None = None, *, code: str = "bad_input", exit: int = BAD_INPUT
    ) -> None:
        self.message, self.hint, self.code, self.exit = message, hint, code, exit
        super().__init__(message)


def check_texts(request: Mapping[str, Any]) -> None:
    """Problem if a text of a request came in as bytes that are no UTF-8: Python keeps such as surrogates."""
    for name, text in request.items():
        try:
            str(text).encode()
        except UnicodeEncodeError as error:
            message = f"the {name} is not UTF-8 at character {error.start + 1}"
            raise Problem(message, "save or send it as UTF-8") from None
