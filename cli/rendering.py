"""An answer as lines of text: what was heard, the change list with its reasons, the balance, the rest.

One function for each section; `full` prints them all, `short` those a driver needs between two runs.
"""

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from cli.hearing import pointers, unique, words_for
from cli.page import Page
from cli.strip import stages_of, strip

if TYPE_CHECKING:
    from service.contract import Advice, ChangeOut, ReasonOut

SHORT_REASONS = ("cure", "trim", "cost", "asked", "thumb", "back", "back-side", "back-other")
"""Kinds of reasons that a driver needs between two runs; the others wait for /why."""
WHERE = {"stop": "on a stop", "garage": "in the garage"}


def full(page: Page, advice: "Advice") -> list[str]:
    """Everything the answer says."""
    return _join(page, advice, SECTIONS)


def short(page: Page, advice: "Advice") -> list[str]:
    """What is needed between two runs; a last line says what else can be asked for."""
    lines = _join(page, advice, SHORT)
    return lines + more(page, advice)


def because(page: Page, advice: "Advice") -> list[str]:
    """Why the list is as it is: every reason, and the sources."""
    return _join(page, advice, (heard, summary, changes, sources))


def left_alone(page: Page, advice: "Advice") -> list[str]:
    """Why a setting that was asked about is not on the list; the summary when there is nothing to tell."""
    asked = {key for request in advice.reading.requests for key in request.settings}
    rows = [row for row in advice.why_not if row.move in asked] or advice.why_not
    narrowed = advice.model_copy(update={"why_not": rows})
    return _join(page, narrowed, (heard, why_not if rows else summary))


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
    return _list(page, advice, lambda change: change.reasons)


def changes_in_short(page: Page, advice: "Advice") -> list[str]:
    """The change list; of the reasons only what each change cures, what it costs and when to go back."""
    return _list(page, advice, lambda c: [r for r in c.reasons if r.kind in SHORT_REASONS] or c.reasons[:1])


def balance(page: Page, advice: "Advice") -> list[str]:
    """The strip for the stages complained of, or the one most is predicted for when none was named."""
    said = unique(s.stage or "" for s in advice.reading.symptoms)
    there = stages_of(advice.expected)
    wanted = there if "whole" in said else [stage for stage in there if stage in said]
    lines: list[str] = []
    for stage in wanted or there[:1]:
        lines += ([""] if lines else []) + strip(page, advice.expected, stage)
    return lines


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
        for change in plan.changes:
            lines += page.wrap(step(page, change), f"     {page.mark('bullet')} ")
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


def clash_in_short(page: Page, advice: "Advice") -> list[str]:
    """With a change list only the repair, since the notes say what is left; without one everything."""
    if advice.clash is None or not advice.changes or not advice.clash.repair:
        return clash(page, advice)
    return page.wrap(advice.clash.repair, "For the rest: ", "  ")


def cautions(page: Page, advice: "Advice") -> list[str]:
    """Warnings, marked by a word and not only by ink."""
    return [page.ink("warn", line) for text in advice.cautions for line in page.wrap(text, "Caution: ")]


def notes(page: Page, advice: "Advice") -> list[str]:
    """Remarks."""
    fresh = [text for text in advice.notes if text != advice.summary]
    return [line for text in fresh for line in page.wrap(text, "Note: ")]


def sources(page: Page, advice: "Advice") -> list[str]:
    """The sources behind the change list, where each can be found on a line of its own."""
    cited = {key for change in advice.changes for reason in change.reasons for key in reason.sources}
    lines: list[str] = []
    for source in advice.sources:
        if source.key in cited or not advice.changes:
            lines += page.wrap(f"[{source.key}] {source.title} ({source.mark})", "  ", " " * 6)
            lines += page.wrap(source.where, " " * 6) if source.where else []
    return [page.ink("faint", line) for line in _headed(page, "Sources", lines)]


def under(page: Page, advice: "Advice") -> list[str]:
    """Which car and track the answer is for."""
    return [page.ink("faint", line) for line in page.wrap(f"For {advice.car} at {advice.track}.")]


def more(page: Page, advice: "Advice") -> list[str]:
    """What else can be asked for after a short answer."""
    offers = []
    if advice.alternatives and advice.status != "no_change":
        offers.append(f"/others shows {counted(len(advice.alternatives), 'other list')}")
    if advice.changes:
        offers.append("/why gives every reason and source")
    return [page.ink("faint", line) for line in page.wrap("; ".join(offers), "  ")] if offers else []


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


def _list(page: Page, advice: "Advice", pick: "Callable[[ChangeOut], list[ReasonOut]]") -> list[str]:
    """The changes, numbered; a setting that only moves together with the one above gets a plus."""
    lines, place = [], 0
    for change in advice.changes:
        together = bool(change.reasons) and change.reasons[0].kind == "together"
        place += not together
        head = "+  " if together else f"{place}  "
        lines += [page.ink("good", line) for line in page.wrap(step(page, change), head, "   ")]
        lines += [line for reason in pick(change) for line in page.wrap(reason.text, "   - ", "     ")]
    return lines


def _join(page: Page, advice: "Advice", sections: "tuple[Section, ...]") -> list[str]:
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
SHORT: tuple[Section, ...] = (
    heard,
    summary,
    notes,
    questions,
    changes_in_short,
    balance,
    clash_in_short,
    cautions,
)
