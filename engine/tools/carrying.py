"""A set-up carried over to another class: its values within the new car's limits, then the fewest changes
that keep the balance.

Balance is compared in each car's own feel, which is zero where that car's tyres share the work as its
builder likes them to: "a little tight in the middle" on the one is to be a little tight in the middle on
the other. What belongs to the engine (gears, final drive, tape) and the fuel stay the new car's own (common
practice, no source).
"""

from dataclasses import dataclass

from engine.car import Car, Setup
from engine.channels import BALANCE
from engine.laying import NOT_FOR_BALANCE
from engine.model import channels, find_pace, rows_of
from engine.style import RACE, Style
from engine.tools.holding import Held, hold
from engine.track import Track
from engine.units import from_si, to_si

__all__ = ["OWN", "Carried", "Clipped", "carry_over"]


OWN = frozenset({*NOT_FOR_BALANCE, "grille_tape"})
"""Settings that are not carried over."""


@dataclass(frozen=True, slots=True)
class Clipped:
    """A value that could not be carried as it was: `why` is range, step, or missing (the car carried from
    has no such setting)."""

    setting: str
    wanted: float | None
    got: float
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class Carried:
    """`start` are A's values on B's sheet, `clipped` what had to give, `held` the changes from there."""

    start: Setup
    clipped: tuple[Clipped, ...]
    held: Held


def carry_over(
    a: Car, setup: Setup, b: Car, track: Track, locked: frozenset[str] = frozenset(), style: Style = RACE
) -> Carried:
    """Carry `setup` of `a` over to `b` at `track`."""
    goal = channels(a, track, rows_of(a, [setup]), find_pace(a, track))[0][: len(BALANCE)]
    start: Setup = {}
    clipped = []
    for setting in b.settings:
        if setting.key in OWN:
            start[setting.key] = setting.base
            continue
        theirs = a.by_key.get(setting.key)
        if theirs is None:
            start[setting.key] = setting.base
            clipped.append(Clipped(setting.key, None, setting.base, "missing"))
            continue
        value = setup[setting.key]
        if theirs.unit != setting.unit:
            value = from_si(to_si(value, theirs.unit), setting.unit)
        nearest = min(range(setting.last + 1), key=lambda click: abs(setting.value_at(click) - value))
        start[setting.key] = setting.value_at(nearest)
        if abs(start[setting.key] - value) > 1e-6:
            why = "step" if setting.min <= value <= setting.max else "range"
            clipped.append(Clipped(setting.key, value, start[setting.key], why))
    return Carried(start, tuple(clipped), hold(b, track, start, goal, locked, style))
