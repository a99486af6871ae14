"""An answer as lines of text: what was heard, the change list with its reasons, the balance, the rest.

One function for each section; `full` prints them all, `cli.brief` those a driver needs between two runs.
"""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from cli.hearing import pointers, unique, words_for
from cli.page import Page
from cli.strip import stages_of, strip

if TYPE_CHECKING:
    from service.contract import Advice, ChangeOut, ReasonOut

WHERE = {"stop": "on a stop", "garage": "in the garage"}


def full(page: Page, advice: "Advice") -> list[str]:
    """Everything the answer says."""
    return joined(page, advice, SECTIONS)


def because(page: Page, advice: "Advice") -> list[str]:
    """Why the list is as it is: every reason, and the sources."""
    return joined(page, advice, (heard, summary, changes, sources))


def left_alone(page: Page, advice: "Advice") -> list[str]:
    """Why a setting that was asked about is not on the list; the summary when there is nothing to tell."""
    asked = {key for request in advice.reading.requests for key in request.settings}
    rows = [row for row in advice.why_not if row.move in asked] or advice.why_not
    narrowed = advice.model_copy(update={"why_not": rows})
    return joined(page, narrowed, (heard, why_not if rows else summary))


def heard(page: Page, advice: "Advice") -> list[str]:
    """What was understood; carets under what was not; spelling slips and how they were read."""
    reading = advice.reading
    words = words_for(reading)
    lines = page.wrap(words, "Heard: ") if words else []
    if reading.unknown:
        what = "Not understood:" if words else "Not understood, so nothing is guessed:"
        lines += [page.ink("warn", what), *pointers(page, reading.text, reading.unknown)]
    for slip in reading.corrections:
        lines += page.wrap(f"took {slip.span.text!r} for {slip.read_as!r}", "  ")
    return lines


def summary(page: Page, advice: "Advice") -> list[str]:
    """The answer in a sentence, without the steps where the list itself follows; a stop stands out."""
    text = headline(advice.summary) if advice.changes else advice.summary
    if advice.status == "stop" and not text.lower().startswith("stop"):
        text = f"STOP: {text}"
    ink = "stop" if advice.status == "stop" else "strong"
    return [page.ink(ink, line) for line in page.wrap(text)] if text else []


def headline(text: str) -> str:
    """`3 changes: this; that. For getting in.` without the steps; any other sentence as it is."""
    found = re.fullmatch(r"(\d+ changes?): .*?\.( For .*)?", text)
    return f"{found[1]}.{found[2] or ''}" if found else text


def changes(page: Page, advice: "Advice") -> list[str]:
    """The change list, every reason under its change."""
    return list_of(page, advice, lambda change: change.reasons)


def balance(page: Page, advice: "Advice") -> list[str]:
    """The strip for the stages complained of, or the one most is predicted for when none was named."""
    lines: list[str] = []
    for stage in stages_told(advice):
        lines += ([""] if lines else []) + strip(page, advice.expected, stage)
    return lines


def stages_told(advice: "Advice") -> list[str]:
    """The stages complained of, or the one most is predicted for when none was named."""
    said = unique(s.stage or "" for s in advice.reading.symptoms)
    there = stages_of(advice.expected)
    wanted = there if "whole" in said else [stage for stage in there if stage in said]
    return wanted or there[:1]


def others(page: Page, advice: "Advice") -> list[str]:
    """What else the prediction moves: tyre wear, temperature, rpm; only what changes."""
    from service.words import channel_words

    moved = [
        f"{channel_words(key)}: {number(row.before)} {page.mark('to')} {number(row.after)} {row.unit}"
        for key, row in advice.expected.items()
        if not key.startswith("balance/") and number(row.before) != number(row.after)
    ]
    return listed(page, "Also expected", moved)


def questions(page: Page, advice: "Advice") -> list[str]:
    """Questions with numbered choices."""
    lines: list[str] = []
    for question in advice.questions:
        lines += [page.ink("strong", line) for line in page.wrap(question.text, "? ")]
        for place, choice in enumerate(question.choices, 1):
            same = choice.label.casefold() == choice.answer.casefold()
            label = choice.label if same else f"{choice.label} (say: {choice.answer})"
            lines += page.wrap(label, f"  {place}  ")
    return lines


def alternatives(page: Page, advice: "Advice") -> list[str]:
    """Other change lists, a line for each change. The list of a "what if" stands in the summary."""
    if advice.status == "no_change":
        return []
    lines: list[str] = []
    for place, plan in enumerate(advice.alternatives):
        lines += page.wrap(headline(plan.summary), f"  {chr(ord('a') + place)}  ")
        for head, change in numbered(plan.changes):
            lines += page.wrap(step(page, change), f"     {head}", " " * 8)
    return _headed(page, "Nearest" if advice.status == "not_possible" else "Or instead", lines)


def why_not(page: Page, advice: "Advice") -> list[str]:
    """Why the levers one would expect were left alone."""
    rows = [row.text if row.label in row.text else f"{row.label}: {row.text}" for row in advice.why_not]
    return listed(page, "Left alone", rows)


def clash(page: Page, advice: "Advice") -> list[str]:
    """Which wishes and limits cannot all hold, and the one repair."""
    if advice.clash is None:
        return []
    lines = page.wrap(advice.clash.text)
    for member in advice.clash.members:
        if member not in advice.clash.text:
            lines += page.wrap(member, f"  {page.mark('bullet')} ")
    return lines + (page.wrap(advice.clash.repair, "hint: ") if advice.clash.repair else [])


def cautions(page: Page, advice: "Advice") -> list[str]:
    """Warnings, marked by a word and not only by ink."""
    return [page.ink("warn", line) for text in advice.cautions for line in page.wrap(text, "Caution: ")]


def notes(page: Page, advice: "Advice") -> list[str]:
    """Remarks."""
    fresh = [text for text in advice.notes if text != advice.summary]
    return [line for text in fresh for line in page.wrap(text, "Note: ")]


def sources(page: Page, advice: "Advice") -> list[str]:
    """The sources behind the change list, how far each is trusted, and on a line of its own where it can be
    found."""
    from service.words import MARK

    cited = {key for change in advice.changes for reason in change.reasons for key in reason.sources}
    lines: list[str] = []
    for source in advice.sources:
        if source.key in cited or not advice.changes:
            lines += page.wrap(
                f"[{source.key}] {source.title} ({MARK.get(source.mark, source.mark)})", "  ", " " * 6
            )
            lines += page.wrap(source.where, " " * 6) if source.where else []
    return [page.ink("faint", line) for line in _headed(page, "Sources", lines)]


def under(page: Page, advice: "Advice") -> list[str]:
    """Which car and track the answer is for."""
    return [page.ink("faint", line) for line in page.wrap(f"For {advice.car} at {advice.track}.")]


def step(page: Page, change: "ChangeOut") -> str:
    """`Brake bias 62 → 63 % (2 clicks up, on a stop)`."""
    way = "up" if change.to > change.from_ else "down"
    arrow = f"{exact(change.from_)} {page.mark('to')} {exact(change.to)} {change.unit}"
    return f"{change.label} {arrow} ({counted(abs(change.clicks), 'click')} {way}, {WHERE[change.where]})"


def counted(count: int, word: str) -> str:
    """`1 click`, `2 clicks`."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def exact(value: float) -> str:
    """A value of a set-up, as the sheet has it: no tail of noughts."""
    return f"{value:.6f}".rstrip("0").rstrip(".")


def number(value: float) -> str:
    """A predicted value: two decimals at most, none from 100 up; no tail of noughts, no minus nought."""
    text = f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) < 100 else f"{value:.0f}"
    return "0" if text == "-0" else text


def named(channel: str) -> str:
    """A channel in words: `wear-gap/right` → `wear gap right`."""
    return channel.replace("-", " ").replace("/", " ")


def listed(page: Page, head: str, rows: list[str]) -> list[str]:
    """A heading and its rows with bullets; nothing when there are no rows."""
    return _headed(page, head, [line for row in rows for line in page.wrap(row, f"  {page.mark('bullet')} ")])


def _headed(page: Page, head: str, lines: list[str]) -> list[str]:
    return [page.ink("strong", head), *lines] if lines else []


def list_of(page: Page, advice: "Advice", pick: "Callable[[ChangeOut], list[ReasonOut]]") -> list[str]:
    """The changes, numbered, each with the reasons picked."""
    lines: list[str] = []
    for head, change in numbered(advice.changes):
        lines += [page.ink("good", line) for line in page.wrap(step(page, change), head, "   ")]
        lines += [line for reason in pick(change) for line in page.wrap(reason.text, "   - ", "     ")]
    return lines


def numbered(changes: "list[ChangeOut]") -> "list[tuple[str, ChangeOut]]":
    """The changes with their numbers; a setting that only moves together with the one above is the same
    change and gets a plus."""
    found, place = [], 0
    for change in changes:
        together = bool(change.reasons) and change.reasons[0].kind == "together"
        place += not together
        found.append(("+  " if together else f"{place}  ", change))
    return found


def joined(page: Page, advice: "Advice", sections: "tuple[Section, ...]") -> list[str]:
    """The sections that have something to say, a blank line between them."""
    lines: list[str] = []
    for section in sections:
        part = section(page, advice)
        lines += ([""] if lines and part else []) + part
    return lines


Section = Callable[[Page, "Advice"], list[str]]
SECTIONS: tuple[Section, ...] = (
    heard,
    summary,
    notes,
    questions,
    changes,
    balance,
    others,
    clash,
    alternatives,
    why_not,
    cautions,
    sources,
    under,
)
