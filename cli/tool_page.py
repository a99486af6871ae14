"""A tool's answer as lines of text."""

from typing import TYPE_CHECKING

from cli.page import Page
from cli.rendering import counted, exact, listed, number
from cli.strip import strip

if TYPE_CHECKING:
    from service.contract_tools import StepOut, ToolAnswer


def show(page: Page, answer: "ToolAnswer") -> list[str]:
    """Everything a tool says: the lines, the settings with what each does on its own, the balance, the
    rest."""
    from service.words import channel_words

    said = [line for one in answer.lines for line in page.wrap(one.text, f"{page.mark('bullet')} ")]
    if not said:
        said = page.wrap(answer.summary)
    steps = [line for step in answer.changes for line in _step(page, step)]
    drawn = strip(page, answer.expected, "half") if any("/half" in key for key in answer.expected) else []
    moved = [
        f"{channel_words(key)}: {number(row.before)} {page.mark('to')} {number(row.after)} {row.unit}"
        for key, row in answer.expected.items()
        if not key.endswith("/half") and number(row.before) != number(row.after)
    ]
    off = [
        f"{channel_words(row.channel)}: {number(abs(row.by))} feel too {_side(row.by)}" for row in answer.off
    ]
    parts = [
        said,
        steps,
        drawn,
        listed(page, "Also", moved),
        listed(page, "Still off", off),
        [page.ink("warn", line) for text in answer.cautions for line in page.wrap(text, "Caution: ")],
        [page.ink("faint", line) for line in page.wrap(f"For {answer.car} at {answer.track}.")],
    ]
    lines: list[str] = []
    for part in parts:
        lines += ([""] if lines and part else []) + part
    return lines


def _side(by: float) -> str:
    return "tight" if by > 0 else "loose"


def _step(page: Page, step: "StepOut") -> list[str]:
    """`Front bar 1.125 → 1 in (1 click down)` and, under it, what it does to the balance at half fuel on its
    own."""
    from service.words import PHASE

    way = "up" if step.to > step.from_ else "down"
    head = f"{step.label} {exact(step.from_)} {page.mark('to')} {exact(step.to)} {step.unit}"
    lines = page.wrap(f"{head} ({counted(abs(step.clicks), 'click')} {way})", "  ")
    alone = [
        f"{number(abs(value))} {'tighter' if value > 0 else 'freer'} {PHASE[channel.split('/')[1]]}"
        for channel, value in step.own.items()
        if channel.startswith("balance/") and channel.endswith("/half")
    ]
    return lines + (page.wrap(f"alone: {', '.join(alone)}", "     ") if alone else [])
