"""An answer for the time between two runs: the list, one line of why for each change, what to feel for, what
it costs. Everything else waits for `/why` in the chat and for `--why` on the command line."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from cli import rendering
from cli.page import Page
from cli.strip import ROOMY, change_in_words

if TYPE_CHECKING:
    from service.contract import Advice, ChangeOut, ReasonOut

TOLD = (
    *("cure", "trim", "without", "asked", "thumb", "does", "does-little"),
    *("feel-for", "look-for", "cost"),
)
"""Kinds of reasons that are told, in this order: why, what to feel for, what it costs."""
USUAL_STAGE = " at half fuel"
"""Left out of every line but the picture's when no other part of the run is spoken of: that is where a
complaint without one is put."""


def short(page: Page, advice: "Advice", door: str = "/") -> list[str]:
    """What is needed between two runs; the last lines say what else can be asked for, and how: `door` is what
    stands before the words ("/" in the chat, "--" on the command line)."""
    cautions = advice.cautions if door == "/" or advice.changes else []
    told = advice.model_copy(update={"cautions": cautions})
    lines = rendering.joined(page, _unstaged(told), SECTIONS)
    return lines + (more(page, advice) if door == "/" else [*([""] if lines else []), *behind(page, advice)])


def changes(page: Page, advice: "Advice") -> list[str]:
    """The change list, each change with its few lines."""
    return rendering.list_of(page, advice, _few)


def balance(page: Page, advice: "Advice") -> list[str]:
    """The balance before and after: drawn where there is room, in words on a narrow page."""
    lines = rendering.balance(page, advice)
    if page.width >= ROOMY or not lines:
        return lines
    from service.words import PHASE, STAGE

    found: list[str] = []
    for stage in rendering.stages_told(advice):
        found += [page.ink("strong", line) for line in page.wrap(f"Balance {STAGE[stage]}, in feel")]
        for phase, words in PHASE.items():
            row = advice.expected.get(f"balance/{phase}/{stage}")
            found += page.wrap(f"{words}: {change_in_words(page, row)}", "  ", "    ") if row else []
    return found


def supposed(page: Page, advice: "Advice") -> list[str]:
    """What else a "what if" would move: it is all there is to tell of it."""
    return [] if advice.changes else rendering.others(page, advice)


def clash(page: Page, advice: "Advice") -> list[str]:
    """With a change list only the repair, since the notes say what is left; without one everything."""
    if advice.clash is None or not advice.changes or not advice.clash.repair:
        return rendering.clash(page, advice)
    return page.wrap(advice.clash.repair, "For the rest: ", "  ")


def asked_about(page: Page, advice: "Advice") -> list[str]:
    """Why a lever was left alone, where the driver asks."""
    asked = {key for r in advice.reading.requests if r.kind == "why-not" for key in r.settings}
    rows = [row for row in advice.why_not if row.move in asked]
    return rendering.why_not(page, advice.model_copy(update={"why_not": rows}))


def more(page: Page, advice: "Advice") -> list[str]:
    """What else can be asked for in the chat."""
    offers = []
    if advice.alternatives and advice.status != "no_change":
        offers.append(f"/others shows {rendering.counted(len(advice.alternatives), 'other list')}")
    if advice.changes:
        offers.append("/why gives every reason and source")
    return [page.ink("faint", line) for line in page.wrap("; ".join(offers), "  ")] if offers else []


def behind(page: Page, advice: "Advice") -> list[str]:
    """Which car and track the answer is for, and what --why adds."""
    text = f"For {advice.car} at {advice.track}."
    if advice.changes or advice.why_not:
        other = len(advice.alternatives) if advice.status != "no_change" else 0
        lists = f", {rendering.counted(other, 'other list')}" if other else ""
        text += f" With --why: every reason and number, what was left alone{lists}, sources."
    return [page.ink("faint", line) for line in page.wrap(text)]


def _few(change: "ChangeOut") -> "list[ReasonOut]":
    """The reasons told, in order; the first reason where none of these is there."""
    told = sorted((r for r in change.reasons if r.kind in TOLD), key=lambda r: TOLD.index(r.kind))
    return told or change.reasons[:1]


def _unstaged(advice: "Advice") -> "Advice":
    """The answer without the usual stage where the driver named no other."""
    stages = {s.stage for s in advice.reading.symptoms}
    if not stages or stages - {None, "half"}:
        return advice
    changed = [
        c.model_copy(update={"reasons": [r.model_copy(update={"text": _bare(r.text)}) for r in c.reasons]})
        for c in advice.changes
    ]
    clashing = advice.clash
    if clashing is not None:
        texts = {"text": _bare(clashing.text), "members": [_bare(m) for m in clashing.members]}
        clashing = clashing.model_copy(
            update=texts | {"repair": _bare(clashing.repair) if clashing.repair else None}
        )
    notes = [_bare(text) for text in advice.notes]
    return advice.model_copy(update={"changes": changed, "notes": notes, "clash": clashing})


def _bare(text: str) -> str:
    return text.replace(USUAL_STAGE, "")


Section = Callable[[Page, "Advice"], list[str]]
SECTIONS: tuple[Section, ...] = (
    rendering.heard,
    rendering.summary,
    rendering.notes,
    rendering.questions,
    changes,
    balance,
    supposed,
    clash,
    asked_about,
    rendering.cautions,
)
