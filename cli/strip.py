"""The balance strip: where the car's balance was and where it should be, a line for each phase of the corner.

                        loose           tight
    in, on the brakes   ··●──○··│·······  loose 1.0 → loose 0.3

Left of the middle is loose, right is tight, in feel. The words beside the line say the same, so nothing hangs
on the picture.
"""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from cli.page import Page
from grammar.intent import PHASES, STAGES

if TYPE_CHECKING:
    from service.contract import BeforeAfter

LEVEL = 0.05
"""Below this much feel the balance is called level: it is what one decimal can show."""
NAME, WORDS, LEAST_BAR = 28, 22, 17
"""Columns for the name of a phase, for the words beside the bar, and the least for the bar itself."""

ROOMY = 2 + NAME + 1 + LEAST_BAR - 1 + 2 + WORDS + 1
"""Columns from which a phase and its bar fit on one line."""


def balance_in_words(feel: float) -> str:
    """`loose 0.8`, `tight 0.3`, `level`."""
    if abs(feel) < LEVEL:
        return "level"
    return f"{'tight' if feel > 0 else 'loose'} {abs(feel):.1f}"


def stages_of(expected: "Mapping[str, BeforeAfter]") -> list[str]:
    """The run stages that a prediction speaks of: the one with most phases first, then half fuel first."""
    count = {stage: sum(f"balance/{p}/{stage}" in expected for p in PHASES) for stage in ("half", *STAGES)}
    return sorted((stage for stage in count if count[stage]), key=lambda stage: -count[stage])


def strip(page: Page, expected: "Mapping[str, BeforeAfter]", stage: str) -> list[str]:
    """The lines of one stage's strip under a heading; empty if nothing is predicted for that stage."""
    from service.words import PHASE, STAGE

    rows = [
        (PHASE[p], expected[f"balance/{p}/{stage}"]) for p in PHASES if f"balance/{p}/{stage}" in expected
    ]
    if not rows:
        return []
    reach = reach_of(value for _, row in rows for value in (row.before, row.after))
    head = f"Balance {STAGE[stage]}, in feel ({page.mark('was')} now, {page.mark('now')} after the changes)"
    lines = [page.ink("strong", line) for line in page.wrap(head)]
    half = min(20, (page.width - 2 - NAME - 1 - 2 - WORDS - 1) // 2)
    if 2 * half + 1 < LEAST_BAR:
        return lines + [line for name, row in rows for line in _narrow(page, name, row, reach)]
    lines.append(" " * (NAME + 3) + "loose" + " " * (2 * half - 9) + "tight")
    for name, row in rows:
        drawn = bar(page, row.before, row.after, reach, half)
        lines.append(f"  {name:<{NAME}} {drawn}  {change_in_words(page, row)}")
    return lines


def reach_of(values: Iterable[float]) -> float:
    """Feel at either end of the strip: 2, or the next whole number that holds every value."""
    return max(2.0, float(-(-max(abs(v) for v in values) // 1)))


def change_in_words(page: Page, row: "BeforeAfter") -> str:
    """`loose 1.0 → level`, or `stays level`."""
    was, now = balance_in_words(row.before), balance_in_words(row.after)
    return f"stays {now}" if was == now else f"{was} {page.mark('to')} {now}"


def _narrow(page: Page, name: str, row: "BeforeAfter", reach: float) -> list[str]:
    """Two lines for a phase where one does not fit."""
    half = min(12, (page.width - 17) // 2)
    words = page.wrap(f"{name}: {change_in_words(page, row)}", "  ")
    return [*words, f"    loose {bar(page, row.before, row.after, reach, half)} tight"]


def bar(page: Page, before: float, after: float, reach: float, half: int) -> str:
    """The picture alone: 2 * half + 1 cells, the middle one is level."""
    cells = [page.mark("dot")] * half + [page.mark("middle")] + [page.mark("dot")] * half
    was, now = (half + round(max(-1.0, min(1.0, v / reach)) * half) for v in (before, after))
    for cell in range(min(was, now) + 1, max(was, now)):
        cells[cell] = page.mark("go") if cell != half else cells[cell]
    cells[was] = page.mark("was")
    cells[now] = page.mark("same") if was == now else page.mark("now")
    return "".join(cells)
