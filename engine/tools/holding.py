"""Bring the balance of a set-up to a goal with the fewest changes: what package, carry-over and start share.

The engine's own planner does the work, in rounds of at most `ROUND` changes: a round's list is proved the
fewest for what it brings; what one round cannot bring the next one tries, from where the first one left the
car. A car that is still outside its bands then (another class, far from home) goes by descent, where every
setting that differs has its price but nothing is proved, and at last by least squares over all settings. Such
a list is kept when it ends inside every band, or clearly nearer than the proved one.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.car import Car, Setup
from engine.channels import BALANCE, CHANNELS
from engine.history import EMPTY
from engine.laying import AIR_INTAKE, NOT_FOR_BALANCE
from engine.model import Pace, channels, find_pace, rows_of
from engine.needs import find_needs
from engine.planning import SCALE, Draft, Task, make_plans
from engine.response import Array
from engine.sensitivity import respond
from engine.style import RACE, Style
from engine.tools.aim import BAND, bands, make_cost, over_limits
from engine.tools.descent import descend
from engine.tools.solving import solve
from engine.track import Track
from engine.wanted import NOTHING, Guard, Need
from engine.wishes import Wishes
from grammar.intent import PHASE_GROUPS, PHASES, STAGES, Reading

__all__ = ["Held", "hold", "off_of"]

ROUND, ROUNDS = 3, 3
INSIDE = 1e-6
"""A miss as small as this is none."""
EACH = 0.05
"""Price of one setting that differs, in the descent's cost: about a thirtieth of a feel (judgement)."""
FELT = len(BALANCE)


@dataclass(frozen=True, slots=True, eq=False)
class Held:
    """`setup` is where the changes lead; `before` and `after` are every channel at the start and there;
    `off` are the balance channels still outside their band, with how far from the goal they are. `proved`:
    each round's list is the fewest there is."""

    setup: Setup
    before: Array
    after: Array
    goal: Array
    off: tuple[tuple[str, float], ...]
    proved: bool = True

    @property
    def met(self) -> bool:
        """True when every balance channel is within its band."""
        return not self.off


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """What is held: `goal` per balance channel (feel); `locked` settings stay; `style` as for a complaint."""

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
) -> Held:
    """The fewest changes from `start` that bring the balance to `goal` [15], `locked` settings untouched."""
    job = Job(car, track, goal, locked, style, find_pace(car, track))
    before = _look(job, start)
    setup, now = start, before
    for _ in range(ROUNDS):
        found = _round(job, setup, now)
        if found is None:
            break
        after = _look(job, found.setup)
        if _miss(job, after) >= _miss(job, now) - 1e-6:
            break
        setup, now = found.setup, after
    proved = True
    for way in (_descended, _solved):
        miss = _miss(job, now)
        if miss <= INSIDE:
            break
        other = way(job, start)
        there = _look(job, other)
        least = _miss(job, there)
        if least <= INSIDE or least < miss - (BAND / 2 if proved else 0.0):
            setup, now, proved = other, there, False
    return Held(setup, before, now, goal, off_of(now, job.goal, job.style), proved)


def _descended(job: Job, start: Setup) -> Setup:
    """Where the descent leads from `start`, each setting that differs at its price."""
    return _down(job, start, start)


def _solved(job: Job, start: Setup) -> Setup:
    """Where least squares over all settings lead from `start`; on the way down from there what need not
    differ is put back."""
    there = solve(job.car, job.track, start, job.goal, _held(job), job.pace, job.style)
    return _down(job, there, start)


def _down(job: Job, setup: Setup, origin: Setup) -> Setup:
    """Where the descent leads from `setup`, each setting that differs from `origin` at its price."""
    cost = make_cost(job.car, job.goal, job.style, lambda clicks: EACH * (clicks != 0).sum(axis=1))
    return descend(job.car, job.track, setup, _held(job), cost, job.pace, origin)


def _held(job: Job) -> frozenset[str]:
    return job.locked | ({*NOT_FOR_BALANCE, AIR_INTAKE} & frozenset(job.car.by_key))


def _look(job: Job, setup: Setup) -> Array:
    return np.asarray(channels(job.car, job.track, rows_of(job.car, [setup]), job.pace)[0])


def off_of(now: Array, goal: Array, style: Style) -> tuple[tuple[str, float], ...]:
    """The balance channels of `now` that lie outside their band about `goal` [15], and how far from it."""
    error, wide = now[:FELT] - goal, bands(style.stage)
    return tuple((c, float(e)) for c, e, b in zip(BALANCE, error, wide, strict=True) if abs(e) > b + 1e-6)


def _miss(job: Job, now: Array) -> float:
    """How far outside the bands the balance is in all, feel; the stage that counts counts most, and what is
    over a limit of the car comes on top."""
    beyond = (
        np.maximum(0.0, np.abs(now[:FELT] - job.goal) - bands(job.style.stage)).reshape(3, -1).sum(axis=1)
    )
    weight = np.array([1.0 if stage == job.style.stage else 0.1 for stage in STAGES])
    over = over_limits(job.car, job.style, now[None])[0] / SCALE
    return float(beyond @ weight + 10.0 * over.sum())


def _round(job: Job, setup: Setup, now: Array) -> Draft | None:
    """One round's list; None when nothing is left to do or nothing helps."""
    error = now[:FELT] - job.goal
    needs = _needs(error, job.style.stage)
    if not needs:
        return None
    base = dict(zip(CHANNELS, map(float, now), strict=True))
    limits = find_needs(Reading(""), base, job.car.limits, NOTHING, job.style).guards
    named = {c for need in needs for c, _ in need.parts}
    guards = [*_guards(error, named, job.style.stage), *(g for g in limits if g.kind == "limit")]
    response = respond(job.car, job.track, setup, pace=job.pace)
    wishes, still = Wishes(job.locked, max_moves=ROUND), np.zeros(len(CHANNELS))
    task = Task(job.car, setup, response, tuple(needs), tuple(guards), wishes, EMPTY, job.style, still)

    def model(setups: list[Setup]) -> Array:
        return channels(job.car, job.track, rows_of(job.car, setups), job.pace)

    best = make_plans(task, model, 1).drafts[0]
    return best if best.plan.clicks else None


def _needs(error: Array, first: str) -> list[Need]:
    """What is outside its band: a group of phases where its phases agree, else phase by phase; the stage
    that counts first."""
    found, wide = [], bands(first)
    for stage in STAGES:
        at = STAGES.index(stage) * len(PHASES)
        for phases in PHASE_GROUPS.values():
            index = [at + PHASES.index(p) for p in phases]
            if all(abs(error[i]) <= wide[i] for i in index):
                continue
            same = all(error[i] * error[index[0]] > 0 for i in index)
            apart = [[i] for i in index if abs(error[i]) > wide[i]]
            found += [_need(stage, some, error, wide) for some in ([index] if same else apart)]
    return [n for n in found if n.stage == first] or found


def _need(stage: str, index: Sequence[int], error: Array, wide: Array) -> Need:
    mean = float(np.mean([error[i] for i in index]))
    room = float(wide[index[0]]) * 0.8
    parts = tuple((BALANCE[i], 1.0 / len(index)) for i in index)
    tolerance = min(0.9, room / max(abs(mean), 1e-9))
    key = f"{'-'.join(PHASES[i % len(PHASES)] for i in index)}/{stage}"
    return Need(key, "balance", parts, -mean, 0, tolerance, 0.0, stage=stage)


def _guards(error: Array, named: set[str], stage: str) -> list[Guard]:
    """Balance channels that are not asked for may come nearer to the goal, or move within their band."""
    found = []
    for channel, e, band in zip(BALANCE, error, bands(stage), strict=True):
        if channel not in named:
            low, high = min(0.0, -band - float(e)), max(0.0, band - float(e))
            found.append(Guard(channel, channel, low, high, "side", 0.3))
    return found
