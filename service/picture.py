"""The balance before and after as one inline SVG: a row for each corner phase, readable in grey.

Before is a hollow ring, after a filled disc, and the words beside them say the same; nothing hangs on colour.
"""

from collections.abc import Mapping
from html import escape

from grammar.intent import PHASES
from service.contract import BeforeAfter
from service.words import PHASE, STAGE

__all__ = ["balance_picture"]

WIDTH, ROW, TOP, LEFT, BAR = 640, 26, 40, 210, 270
LEVEL = 0.05


def balance_picture(expected: Mapping[str, BeforeAfter], stage: str) -> str:
    """The SVG of one run stage; empty when nothing is predicted for it."""
    rows = [(PHASE[p], expected[key]) for p in PHASES if (key := f"balance/{p}/{stage}") in expected]
    if not rows:
        return ""
    reach = max(2.0, *(abs(v) for _, row in rows for v in (row.before, row.after)))
    height = TOP + ROW * len(rows) + 8
    middle, bottom = LEFT + BAR / 2, height - 8
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-label="Balance {escape(STAGE[stage])}, before and after">',
        f'<text x="0" y="14" class="head">Balance {escape(STAGE[stage])}, in feel '
        "(ring: now, disc: after)</text>",
        f'<text x="{LEFT}" y="32">loose</text><text x="{LEFT + BAR}" y="32" text-anchor="end">tight</text>',
        f'<line x1="{middle}" y1="{TOP - 4}" x2="{middle}" y2="{bottom}" stroke="#000" stroke-width="1"/>',
    ]
    for place, (name, row) in enumerate(rows):
        parts.append(_row(name, row, TOP + ROW * place + ROW / 2, reach))
    return "".join([*parts, "</svg>"])


def _row(name: str, row: BeforeAfter, y: float, reach: float) -> str:
    """A phase: name, line, ring, disc, words."""
    was, now = (LEFT + BAR / 2 * (1 + max(-1.0, min(1.0, v / reach))) for v in (row.before, row.after))
    return (
        f'<text x="0" y="{y + 4}">{escape(name)}</text>'
        f'<line x1="{LEFT}" y1="{y}" x2="{LEFT + BAR}" y2="{y}" stroke="#bbb" stroke-width="1"/>'
        f'<line x1="{was:.1f}" y1="{y}" x2="{now:.1f}" y2="{y}" stroke="#444" stroke-width="3"/>'
        f'<circle cx="{was:.1f}" cy="{y}" r="6" fill="#fff" stroke="#222" stroke-width="2"/>'
        f'<circle cx="{now:.1f}" cy="{y}" r="5" fill="#222"/>'
        f'<text x="{LEFT + BAR + 14}" y="{y + 4}">{_words(row.before)} → {_words(row.after)}</text>'
    )


def _words(feel: float) -> str:
    if abs(feel) < LEVEL:
        return "level"
    return f"{'tight' if feel > 0 else 'loose'} {abs(feel):.1f}"
