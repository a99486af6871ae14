"""What the chat can do besides listening: a table of commands, each with its help.

A command's function takes the session, the rest of the line and the page, and gives a Turn; it may raise
Problem.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, NamedTuple

from cli import rendering
from cli.arguments import number, pairs, read_setup
from cli.page import Page
from cli.problems import Problem
from cli.session import PREFIX, Session, Turn

if TYPE_CHECKING:
    from service.contract import Advice


class Command(NamedTuple):
    """One command: name, what follows it, help, function."""

    name: str
    usage: str
    help: str
    run: Callable[[Session, str, Page], Turn]


def run(session: Session, line: str, page: Page) -> Turn:
    """Run a line that followed the prefix; a name may be cut short while it stays clear. Raises Problem."""
    name, _, rest = line.strip().partition(" ")
    found = [c for c in COMMANDS if c.name == name] or [
        c for c in COMMANDS if name and c.name.startswith(name)
    ]
    if len(found) != 1:
        names = ", ".join(PREFIX + c.name for c in found or COMMANDS)
        raise Problem(f"{PREFIX}{name} is {'not clear' if found else 'no command'}", f"there are: {names}")
    return found[0].run(session, rest.strip(), page)


def show_help(session: Session, rest: str, page: Page) -> Turn:
    """Commands, and what can simply be said."""
    lines = page.wrap("Say what the car does, in your own words. For example:")
    lines += [line for text in EXAMPLES for line in page.wrap(text, "  ", "    ")]
    lines += ["", page.ink("strong", "Commands")]
    for command in COMMANDS:
        head = f"{PREFIX}{command.name} {command.usage}".rstrip()
        if page.width < ROOMY:
            lines += [f"  {head}", *page.wrap(command.help, " " * 6)]
        else:
            lines += page.wrap(command.help, f"  {head:<20}  ", " " * 24)
    return Turn([*lines, "", *page.wrap("Ctrl-D leaves; Ctrl-C clears the line; Tab completes.")])


def choose_car(session: Session, rest: str, page: Page) -> Turn:
    """List the cars, or take one from now on."""
    return _choose(session, "cars", "car", rest, page)


def choose_track(session: Session, rest: str, page: Page) -> Turn:
    """List the tracks, or take one from now on."""
    return _choose(session, "tracks", "track", rest, page)


def show_setup(session: Session, rest: str, page: Page) -> Turn:
    """Show the set-up of this session, or load one from a file."""
    if rest:
        session.take(setup=read_setup_file(rest))
    state = session.state()
    car = session.client.sheet("cars", state["car"])
    now = state["setup"]
    lines = page.wrap(f"{car['name']}, as it stands; {page.mark('bullet')} differs from the car's own set-up")
    for setting in car["settings"]:
        value = now.get(setting["key"], setting["base"])
        mark = page.mark("bullet") if value != setting["base"] else " "
        span = f"{rendering.exact(setting['min'])} to {rendering.exact(setting['max'])}"
        told = f"{rendering.exact(value)} {setting['unit']} ({span})"
        lines += page.wrap(told, f"{mark} {setting['key']:<18} ", " " * 6)
    return Turn(lines)


def set_value(session: Session, rest: str, page: Page) -> Turn:
    """Put one or more settings at a value, as they are on the car."""
    values = {key: number(key, value, "/set") for key, value in pairs(rest.split(), "/set").items()}
    if not values:
        raise Problem("/set needs KEY=VALUE", "for example /set cross_weight=52.5")
    session.take(setup={**session.state()["setup"], **values})
    return Turn([f"Set: {', '.join(f'{key} = {rendering.exact(v)}' for key, v in values.items())}."])


def style(session: Session, rest: str, page: Page) -> Turn:
    """Show the style of the session, or shift it: session, balance, wear."""
    if not rest:
        now = session.state().get("style") or {}
        return Turn([", ".join(f"{key} = {value}" for key, value in now.items()) or "The usual style."])
    values = pairs(rest.split(), "/style")
    session.take(style={**(session.state().get("style") or {}), **values})
    return Turn([f"Style: {', '.join(f'{key} = {value}' for key, value in values.items())}."])


def undo(session: Session, rest: str, page: Page) -> Turn:
    """Take the last change list back."""
    return _said(session, "undo that", page)


def why(session: Session, rest: str, page: Page) -> Turn:
    """Everything about the last answer: every reason, why not something else, sources."""
    return Turn(rendering.full(page, _last(session)))


def others(session: Session, rest: str, page: Page) -> Turn:
    """The other change lists of the last answer, and why the usual levers were left alone."""
    advice = _last(session)
    lines = rendering.alternatives(page, advice)
    left = rendering.why_not(page, advice)
    lines = [*lines, *([""] if lines and left else []), *left]
    return Turn(lines or ["There is no other list within the limits."])


def log(session: Session, rest: str, page: Page) -> Turn:
    """What this session said and did, a line for each entry."""
    from cli.logs import entry

    lines = [line for event in session.client.log(session.name) for line in entry(page, event)]
    return Turn(lines or ["Nothing was said yet in this session."])


def learned(session: Session, rest: str, page: Page) -> Turn:
    """What the car's answers have taught."""
    rows = session.client.learned(session.name)
    return Turn(
        [line for row in rows for line in page.wrap(row, "  ")] or ["Nothing learned yet about this car."]
    )


def forget(session: Session, rest: str, page: Page) -> Turn:
    """Forget what was learned about this car."""
    session.client.forget(session.name)
    return Turn(["Forgotten. Answers lean on the model and the rules alone again."])


def new(session: Session, rest: str, page: Page) -> Turn:
    """Begin a new session with the same car, track and set-up."""
    kept = session.state()
    session.begin(rest or None)
    session.take(car=kept["car"], track=kept["track"], setup=kept["setup"])
    return Turn([f"New session: {session.name}."])


def leave(session: Session, rest: str, page: Page) -> Turn:
    """Leave the chat."""
    return Turn([], leave=True)


def read_setup_file(name: str) -> dict[str, float]:
    """A set-up file named by the user, quotes and ~ allowed. Raises Problem."""
    from pathlib import Path

    return read_setup(Path(name.strip("\"'")).expanduser())


def _choose(session: Session, kind: str, word: str, rest: str, page: Page) -> Turn:
    if not rest:
        rows = session.client.sheets(kind)
        now = session.state()[word]
        marks = [page.mark("bullet") if row["id"] == now else " " for row in rows]
        heads = [f"{mark} {row['id']:<16} " for mark, row in zip(marks, rows, strict=True)]
        told = [page.wrap(row["name"], head) for row, head in zip(rows, heads, strict=True)]
        return Turn([line for lines in told for line in lines])
    sheet, before = session.client.sheet(kind, rest), session.state()[word]
    session.take(**{word: sheet["id"]})
    fresh = " It begins at its own set-up, without what was said of the car before."
    taken = f"{word.capitalize()}: {page.clean(sheet['name'])} ({sheet['id']})."
    return Turn(page.wrap(taken + (fresh if word == "car" and sheet["id"] != before else "")))


def _said(session: Session, text: str, page: Page) -> Turn:
    return session.answered(page, session.say(text))


def _last(session: Session) -> "Advice":
    last = session.recalled()
    if last is None:
        raise Problem(
            "there is no change list yet", "say what the car does, for example: loose in, tight off"
        )
    return last


ROOMY = 60
"""Columns from which a command and its help stand on one line."""
EXAMPLES = (
    "loose in, tight off at half fuel",
    "did it: better in, same off",
    "what if I go 25 up on the right rear?",
    "why not wedge",
    "something else",
    "leave the springs alone, a touch tight in the middle",
)
COMMANDS = (
    Command("help", "", "this list", show_help),
    Command("car", "[ID]", "list the cars, or take one", choose_car),
    Command("track", "[ID]", "list the tracks, or take one", choose_track),
    Command("setup", "[FILE]", "show the set-up as it stands, or load one", show_setup),
    Command("set", "KEY=VALUE ...", "note what the car has", set_value),
    Command("style", "KEY=VALUE ...", "session=qualifying, balance=safer, wear=harsh; none: show", style),
    Command("why", "", "every reason, number and source of the last answer", why),
    Command("others", "", "other change lists; why the usual levers were left alone", others),
    Command("undo", "", "take the last change list back", undo),
    Command("log", "", "what this session said and did", log),
    Command("learned", "", "what the car's answers have taught", learned),
    Command("forget", "", "forget what was learned about this car", forget),
    Command("new", "[NAME]", "begin a new session, same car and set-up", new),
    Command("quit", "", "leave", leave),
)
