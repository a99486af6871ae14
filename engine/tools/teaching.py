"""The next one-at-a-time runs that teach most: the lever whose answer matters most and is known least."""

from dataclasses import dataclass

import numpy as np

from engine.car import Car, Setup
from engine.channels import BALANCE
from engine.learning import Knowledge
from engine.levers import applied
from engine.sensitivity import respond
from engine.track import Track

__all__ = ["Run", "next_runs"]

FELT = slice(5, 10)
"""Balance at half fuel."""
LEAST = 0.25
"""Feel that a run must change for a driver to tell (half of a slight complaint; judgement)."""


@dataclass(frozen=True, slots=True)
class Run:
    """Try `setting` at `value`: expected `effect` feel on `channel` (where it is strongest), give or take
    `doubt`."""

    setting: str
    value: float
    channel: str
    effect: float
    doubt: float


def next_runs(
    car: Car, track: Track, setup: Setup, count: int = 3, knowledge: Knowledge | None = None
) -> tuple[Run, ...]:
    """The `count` best single-setting runs, by (what is not known of the lever) over (the trade's order of
    reaching for it)."""
    response = respond(car, track, setup)
    if knowledge is not None:
        response = applied(knowledge, response)
    found = []
    for row, move in enumerate(response.moves):
        if len(move.parts) != 1:
            continue
        key = next(iter(move.parts))
        setting, now = car.setting(key), car.setting(key).click_of(setup[key])
        steps = min(move.cap, setting.last - now) or -min(move.cap, now)
        effect, doubt = response.step[row, FELT] * steps, response.sd[row, FELT] * abs(steps)
        at = int(np.abs(effect).argmax())
        if abs(effect[at]) < LEAST:
            continue
        worth = float(np.sqrt((doubt**2).mean())) / (1.0 + move.reach)
        run = Run(key, setting.value_at(now + steps), BALANCE[5 + at], float(effect[at]), float(doubt[at]))
        found.append((-worth, key, run))
    return tuple(run for _, _, run in sorted(found, key=lambda row: row[:2])[:count])
