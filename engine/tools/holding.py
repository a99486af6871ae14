"""Bring the balance of a set-up to a goal with the fewest changes: what package, carry-over and start share.

The engine's own planner does the work, in rounds of at most `ROUND` changes: a round's list is proved the
fewest for what it
brings; what one round cannot bring the next one tries, from where the first one left the car.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from engine.car import Car, Setup
from engine.channels import BALANCE, CHANNELS
from engine.history import EMPTY
from engine.model import Pace, channels, find_pace, rows_of
from engine.needs import find_needs
from engine.planning import INDEX, SCALE, Draft, Task, make_plans
from engine.response import Array
from engine.sensitivity import respond
from engine.style import RACE, Style
from engine.track import Track
from engine.wanted import NOTHING, Guard, Need
from engine.wishes import Wishes
from grammar.intent import PHASE_GROUPS, PHASES, STAGES, Reading

__all__ = ["BAND", "Held", "hold"]

BAND = 0.35
"""How far from the goal the balance may stay, feel (the engine's own side band)."""
ROUND, ROUNDS = 3, 3
FELT = len(BALANCE)
STAGE_BAND = 1.5
"""The start and the end of the run may stay this many bands from the goal: they drift with wear and fuel,
which is not
set by the balance alone (judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """`setup` is where the changes lead; `before` and `after` are every channel at the start and there; `off`
    are the
    balance channels still outside their band, with how far from the goal they are."""

    setup: Setup
    before: Array
    after: Array
    goal: Array
    off: tuple[tuple[str, float], ...]

    @property
    def met(self) -> bool:
        """True when every balance channel is within its band."""
        return not self.off


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """What is held: `goal` per balance channel (feel); `locked` settings stay; `others` are further needs
    (channel → wanted
    change); `style` as for a complaint."""

    car: Car
    track: Track
    goal: Array
    locked: frozenset[str]
    style: Style
    pace: Pace


def hold(
    car: Car,
    track: Track,
    start: Setup,
    goal: Array,
    locked: frozenset[str] = frozenset(),
    style: Style = RACE,
    others: Mapping[str, float] | None = None,
) -> Held:
    """The fewest changes from `start` that bring the balance to `goal` [15], `locked` settings untouched."""
    job = Job(car, track, goal, locked, style, find_pace(car, track))
    before = _look(job, start)
    setup, now, wanted = start, before, dict(others or {})
    for _ in range(ROUNDS):
        found = _round(job, setup, now, wanted)
        if found is None:
            break
        after = _look(job, found.setup)
        if _miss(job, after, wanted) >= _miss(job, now, wanted) - 1e-6:
            break
        for channel in wanted:
            wanted[channel] -= float(after[INDEX[channel]] - now[INDEX[channel]])
        setup, now = found.setup, after
    return Held(setup, before, now, goal, _off(job, now))


def bands() -> Array:
    """How far from the goal each balance channel may stay, feel."""
    return np.array([BAND if s == "half" else BAND * STAGE_BAND for s in STAGES for _ in PHASES])


def _look(job: Job, setup: Setup) -> Array:
    return np.asarray(channels(job.car, job.track, rows_of(job.car, [setup]), job.pace)[0])


def _off(job: Job, now: Array) -> tuple[tuple[str, float], ...]:
    error = now[:FELT] - job.goal
    return tuple((c, float(e)) for c, e, b in zip(BALANCE, error, bands(), strict=True) if abs(e) > b + 1e-6)


def _miss(job: Job, now: Array, wanted: Mapping[str, float]) -> float:
    """How far outside the bands the balance is in all, and what the other needs still lack, in feel."""
    beyond = np.maximum(0.0, np.abs(now[:FELT] - job.goal) - bands()).sum()
    return float(beyond) + sum(abs(v) / float(SCALE[INDEX[c]]) for c, v in wanted.items())


def _round(job: Job, setup: Setup, now: Array, wanted: Mapping[str, float]) -> Draft | None:
    """One round's list; None when nothing is left to do or nothing helps."""
    error = now[:FELT] - job.goal
    needs = [*_needs(error), *(_other(c, v) for c, v in wanted.items() if abs(v) > 0.25 * SCALE[INDEX[c]])]
    if not needs:
        return None
    base = dict(zip(CHANNELS, map(float, now), strict=True))
    limits = find_needs(Reading(""), base, job.car.limits, NOTHING, job.style).guards
    named = {c for need in needs for c, _ in need.parts}
    guards = [*_guards(error, named), *(g for g in limits if g.kind == "limit" and g.channel not in named)]
    response = respond(job.car, job.track, setup, pace=job.pace)
    wishes, still = Wishes(job.locked, max_moves=ROUND), np.zeros(len(CHANNELS))
    task = Task(job.car, setup, response, tuple(needs), tuple(guards), wishes, EMPTY, job.style, still)

    def model(setups: list[Setup]) -> Array:
        return channels(job.car, job.track, rows_of(job.car, setups), job.pace)

    best = make_plans(task, model, 1).drafts[0]
    return best if best.plan.clicks else None


def _needs(error: Array) -> list[Need]:
    """What is outside its band: a group of phases where its phases agree, else phase by phase; half fuel
    first."""
    found = []
    for stage in ("half", "start", "late"):
        at = STAGES.index(stage) * len(PHASES)
        for group, phases in PHASE_GROUPS.items():
            index = [at + PHASES.index(p) for p in phases]
            if all(abs(error[i]) <= bands()[i] for i in index):
                continue
            same = all(error[i] * error[index[0]] > 0 for i in index)
            found += [_need(f"{group}/{stage}", index, error)] if same else _single(index, error, stage)
    return [n for n in found if n.stage == "half"] or found


def _single(index: Sequence[int], error: Array, stage: str) -> list[Need]:
    return [_need(f"{PHASES[i % 5]}/{stage}", [i], error) for i in index if abs(error[i]) > bands()[i]]


def _need(key: str, index: Sequence[int], error: Array) -> Need:
    mean = float(np.mean([error[i] for i in index]))
    room = float(bands()[index[0]]) * 0.8
    parts = tuple((BALANCE[i], 1.0 / len(index)) for i in index)
    return Need(
        key, "balance", parts, -mean, 0, min(0.9, room / max(abs(mean), 1e-9)), 0.0, stage=key.split("/")[1]
    )


def _other(channel: str, change: float) -> Need:
    return Need(channel, channel, ((channel, 1.0),), change, 1, tolerance=0.4, floor=0.0)


def _guards(error: Array, named: set[str]) -> list[Guard]:
    """Balance channels that are not asked for may come nearer to the goal, or move within their band."""
    found = []
    for channel, e, band in zip(BALANCE, error, bands(), strict=True):
        if channel not in named:
            low, high = min(0.0, -band - float(e)), max(0.0, band - float(e))
            found.append(Guard(channel, channel, low, high, "side", 0.3))
    return found
