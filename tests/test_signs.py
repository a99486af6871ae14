"""The signs of the response against the trade's table (handbook section 1; marks and sources stand in
rules/balance.toml)."""

from pathlib import Path

import numpy as np
import pytest

from engine.rules import rules
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from engine.signs import PUBLISHED, Cell, cells, table
from grammar.intent import PHASES

CAR, TRACK = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
CELLS = list(cells(CAR, TRACK))
DIRECTED = [c for c in CELLS if c.agrees is not None]
GOLDEN = Path(__file__).parent / "golden" / "signs.txt"


@pytest.mark.parametrize("cell", DIRECTED, ids=lambda c: f"{c.mark} {c.row} {c.phase}")
def test_the_response_has_the_trade_s_sign_or_the_row_says_why_not(cell: Cell) -> None:
    """A listed exception that has come right must be taken off the list."""
    assert cell.agrees == (cell.odd is None), f"both {cell.both:+.3f}, trade {cell.trade:+.2f}"


def test_most_published_directions_come_out_of_the_model_alone() -> None:
    """The rules do not carry the table: at least nine in ten directions are the model's own (its effect
    above 0.01 feel)."""
    published = [c for c in DIRECTED if c.mark in PUBLISHED and abs(c.model) > 0.01]
    right = [c for c in published if np.sign(c.model) == np.sign(c.trade)]

    assert len(published) > 80
    assert len(right) >= 0.9 * len(published)


def test_exceptions_give_a_reason_in_words() -> None:
    for rule in rules():
        for phase, reason in rule.odd.items():
            assert phase in PHASES
            assert len(reason.split()) > 8


def test_trade_steps_are_of_believable_size() -> None:
    """Design section 6, from a prototype of the same model: strong levers do a third to one feel a step;
    tenths for dampers."""
    size = {(c.row, c.phase): abs(c.both) for c in CELLS}
    for row, phase in (
        ("Cross-weight", "centre"),
        ("Front anti-roll bar", "centre"),
        ("Track bar, both ends", "centre"),
        ("Right-rear spring", "exit-first-throttle"),
        ("Rear stagger", "exit-first-throttle"),
        ("Rear spoiler, steeper", "exit-full-throttle"),
    ):
        assert 0.25 < size[row, phase] < 1.3, (row, phase, size[row, phase])
    dampers = (f"{corner} compression" for corner in ("Left-front", "Right-front"))
    assert max(size[row, phase] for row in dampers for phase in PHASES) < 0.3


def test_track_bar_ends_work_where_the_trade_says() -> None:
    """Common practice, no source: left end more on entry, right end more on exit."""
    both = {(c.row, c.phase): c.both for c in CELLS}
    left, right = ([both[f"Track bar, {end} end", p] for p in PHASES] for end in ("left", "right"))

    assert left[0] < left[4] and left[1] < left[3]
    assert right[4] < right[0] and right[3] < right[1]


def test_the_table_is_as_printed() -> None:
    """Readable golden file; write it anew with `python -m engine.signs > tests/golden/signs.txt` and read
    the difference."""
    assert table(CAR, TRACK) == GOLDEN.read_text("utf-8")
