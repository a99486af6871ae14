"""A chat without a terminal: one line in, lines of text and an exit code out. Prompt and pipe both use it."""

from cli.commands import run
from cli.output import told
from cli.page import Page
from cli.problems import BAD_INPUT, DEFECT, Problem, defect
from cli.session import PREFIX, Session, Turn

PLAIN_WORDS = {
    "help": "help",
    "": "help",
    "quit": "quit",
    "bye": "quit",
    "what have you learned": "learned",
    "what did you learn": "learned",
}
"""Whole lines that are commands without the prefix, their question mark left off. "exit" is not one: it is a
part of the corner."""


def turn(session: Session, text: str, page: Page) -> Turn:
    """Answer a line: a command, the number of a choice, or a complaint. Never raises."""
    try:
        return _turn(session, text.strip(), page)
    except Problem as problem:
        return Turn(told(page, problem), problem.exit)
    except Exception as error:  # the chat goes on, and says so
        return Turn(told(page, defect(error)), DEFECT)


def _turn(session: Session, text: str, page: Page) -> Turn:
    plain = text.casefold().rstrip("?").rstrip()
    if text and plain in PLAIN_WORDS:
        text = PREFIX + PLAIN_WORDS[plain]
    if text.startswith(PREFIX):
        return run(session, text[len(PREFIX) :], page)
    if not text:
        return Turn([], BAD_INPUT)
    advice = session.say(session.chosen(text))
    asked = {request.kind for request in advice.reading.requests}
    if asked == {"show"} and not advice.reading.symptoms:
        return run(session, "setup", page)
    return session.answered(page, advice)
