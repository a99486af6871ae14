"""A tool's answer as lines of text."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from cli.page import Page
from cli.rendering import counted, exact, listed, number
from cli.strip import strip
from grammar.intent import PHASE_GROUPS, STAGES

if TYPE_CHECKING:
    from service.contract_tools import StepOut, ToolAnswer

WINDOWS = {"pressure-window": 2.0, "camber-window": 1.0}
"""How far from a tyre's best its pressure (psi) and camber (deg) are worth a line."""
ALIKE = 0.35
"""Phases of one part of the corner that differ by less than this share are said as one."""


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
        if not key.startswith("balance/") and _told(key, row.before, row.after)
    ]
    parts = [
        said,
        steps,
        drawn,
        listed(page, "Over the run, in feel (+ is tight)", _run(page, answer)),
        listed(page, "Also", moved),
        listed(page, "Still off, in feel", _off(answer)),
        [page.ink("warn", line) for text in answer.cautions for line in page.wrap(text, "Caution: ")],
        [page.ink("faint", line) for line in page.wrap(f"For {answer.car} at {answer.track}.")],
    ]
    lines: list[str] = []
    for part in parts:
        lines += ([""] if lines and part else []) + part
    return lines


def _told(key: str, before: float, after: float) -> bool:
    """Worth a line: it changes as printed, and a tyre window only when it ends away from the tyre's best."""
    kind = key.split("/")[0]
    return number(before) != number(after) and abs(after) >= WINDOWS.get(kind, 0.0)


def _run(page: Page, answer: "ToolAnswer") -> list[str]:
    """The parts of the corner at the other stages of the run, each the mean of its phases, before and
    after."""
    from service.words import PHASE, STAGE

    found = []
    for stage in ("start", "late"):
        parts = []
        for group, phases in PHASE_GROUPS.items():
            rows = [answer.expected.get(f"balance/{phase}/{stage}") for phase in phases]
            known = [row for row in rows if row is not None]
            if known:
                was = sum(row.before for row in known) / len(known)
                now = sum(row.after for row in known) / len(known)
                parts.append(f"{PHASE[group]} {was:+.1f} {page.mark('to')} {now:+.1f}")
        if parts:
            found.append(f"{STAGE[stage]}: {', '.join(parts)}")
    return found


def _off(answer: "ToolAnswer") -> list[str]:
    """What is outside its band, one line for each stage of the run."""
    from service.words import PHASE, STAGE

    lines: dict[str, list[str]] = {}
    for row in answer.off:
        _, phase, stage = row.channel.split("/")
        side = "tight" if row.by > 0 else "loose"
        lines.setdefault(stage, []).append(f"{number(abs(row.by))} too {side} {PHASE[phase]}")
    return [f"{STAGE[stage]}: {'; '.join(lines[stage])}" for stage in STAGES if stage in lines]


def _step(page: Page, step: "StepOut") -> list[str]:
    """`Front bar 1.125 → 1 in (1 click down)` and, under it, what it does to the balance at half fuel on
    its own."""
    way = "up" if step.to > step.from_ else "down"
    head = f"{step.label} {exact(step.from_)} {page.mark('to')} {exact(step.to)} {step.unit}"
    lines = page.wrap(f"{head} ({counted(abs(step.clicks), 'click')} {way})", "  ")
    alone = _alone(step.own)
    return lines + (page.wrap(f"alone: {', '.join(alone)}", "     ") if alone else [])


def _alone(own: Mapping[str, float]) -> list[str]:
    """The balance at half fuel in words; a part of the corner whose phases agree is said once, by their
    mean."""
    from service.words import PHASE

    found = []
    for group, phases in PHASE_GROUPS.items():
        told = {p: own[f"balance/{p}/half"] for p in phases if f"balance/{p}/half" in own}
        values = list(told.values())
        if len(told) == len(phases) and max(values) - min(values) <= ALIKE * max(map(abs, values)):
            told = {group: sum(values) / len(values)}
        found += [
            f"{number(abs(v))} {'tighter' if v > 0 else 'freer'} {PHASE[where]}" for where, v in told.items()
        ]
    return found
