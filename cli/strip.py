"""The balance strip: where the car's balance was and where it should be, a line for each phase of the corner.

    on the brakes     LOOSE ··●──○··│······· TIGHT   loose 1.0 → loose 0.3

Left of the middle is loose, right is tight, in feel. The words beside the line say the same, so nothing hangs
on the picture.
"""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from cli.page import Page, columns

if TYPE_CHECKING:
    from service.contract import BeforeAfter

PHASES = {
    "entry-braking": "in, on the brakes",
    "entry-rolling": "in, off the brakes",
    "centre": "middle",
    "exit-first-throttle": "off, first throttle",
    "exit-full-throttle": "off, full throttle",
}
STAGES = {"start": "at the start of the run", "half": "at half fuel", "late": "late in the run"}
LEVEL = 0.05
"""Below this much feel the balance is called level: it is what one decimal can show."""


def balance_in_words(feel: float) -> str:
    """`loose 0.8`, `tight 0.3`, `level`."""
    if abs(feel) < LEVEL:
        return "level"
    return f"{'tight' if feel > 0 else 'loose'} {abs(feel):.1f}"


def stages_of(expected: "Mapping[str, BeforeAfter]") -> list[str]:
    """The run stages that a prediction speaks of, in order."""
    return [stage for stage in STAGES if any(key.endswith(f"/{stage}") for key in expected)]


def strip(page: Page, expected: "Mapping[str, BeforeAfter]", stage: str) -> list[str]:
    """The lines of one stage's strip under a heading; empty if nothing is predicted for that stage."""
    rows = [
        (PHASES[p], expected[f"balance/{p}/{stage}"]) for p in PHASES if f"balance/{p}/{stage}" in expected
    ]
    if not rows:
        return []
    reach = reach_of(value for _, row in rows for value in (row.before, row.after))
    head = f"Balance {STAGES[stage]}, in feel ({page.mark('was')} now, {page.mark('now')} after the changes)"
    lines = [page.ink("strong", line) for line in page.wrap(head)]
    for name, row in rows:
        lines += _row(page, name, row.before, row.after, reach)
    return lines


def reach_of(values: Iterable[float]) -> float:
    """Feel at either end of the strip: 2, or the next whole number that holds every value."""
    return max(2.0, float(-(-max(abs(v) for v in values) // 1)))


def _row(page: Page, name: str, before: float, after: float, reach: float) -> list[str]:
    was, now = balance_in_words(before), balance_in_words(after)
    words = f"stays {now}" if was == now else f"{was} {page.mark('to')} {now}"
    if page.width >= 76:
        half = min(20, (page.width - 20 - 14 - 24 - 2) // 2)
        return [f"  {name:<20}loose {bar(page, before, after, reach, half)} tight  {words}"]
    half = min(12, (page.width - 17) // 2)
    return [*page.wrap(f"{name}: {words}", "  "), f"    loose {bar(page, before, after, reach, half)} tight"]


def bar(page: Page, before: float, after: float, reach: float, half: int) -> str:
    """The picture alone: 2 * half + 1 cells, the middle one is level."""
    cells = [page.mark("dot")] * half + [page.mark("middle")] + [page.mark("dot")] * half
    was, now = (half + round(max(-1.0, min(1.0, v / reach)) * half) for v in (before, after))
    for cell in range(min(was, now) + 1, max(was, now)):
        cells[cell] = page.mark("go") if cell != half else cells[cell]
    cells[was] = page.mark("was")
    cells[now] = page.mark("same") if was == now else page.mark("now")
    assert columns("".join(cells)) == 2 * half + 1
    return "".join(cells)
