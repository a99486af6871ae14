"""What the driver's reports teach: where the balance is against what he wants, and how much each move really
does.

One joint normal belief over `x = (balance[15], gain[lever, phase] ...)`; a lever is a setting (a move of two
settings pushes with both, each with its own gains):

* balance, feel, + = tighter: what the driver feels minus what he likes, per balance channel (stage-major, 5
  phases a stage); 0 is his ideal. Known only from what he says.
* gain, 1 = the car answers as the response says; prior mean 1, prior deviation from the response's own doubt,
  alike within a phase group, partly alike between groups. A lever gets its five gains when it is first moved.
* `SOURCE`, one for all levers, per phase: how far the car goes by the model where model and rule of thumb
  differ, so that what one lever shows of that counts for the next.

Making a change is linear: balance += clicks * (step * gain + other * source). A report is a set of
intervals on sums of the state ("tight off" = exit between 0.6 and 1.6; silence = within the driver's
threshold; "no change" = the sum of pushes within 0.25), each taken in by matching the first two moments of
the cut normal (assumed-density filtering; Minka 2001; Kalman's update when the interval is a point). Pure
and deterministic: the same reports give the same belief.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import erfc, exp, pi, sqrt

import numpy as np

from engine.channels import BALANCE
from engine.response import Array
from grammar.intent import PHASE_GROUPS, PHASES, STAGES

__all__ = [
    "UNKNOWN",
    "GainView",
    "Heard",
    "Knowledge",
    "Push",
    "carried",
    "drifted",
    "gains",
    "heard",
]

N = len(BALANCE)
P = len(PHASES)
PRIOR_BALANCE = 1.2
"""Deviation of the balance of a car nobody has spoken of, feel: complaints run from 0.5 to about 2."""
PHASE_LIKE, STAGE_LIKE = 0.6, 0.9
"""How alike the balance is in neighbouring phases and in neighbouring run stages (correlation; judgement)."""
DRIFT = 0.06
"""Deviation by which the track moves the balance from one run to the next, feel (judgement)."""
GAIN_SD = (0.50, 2.00)
"""Least and most prior deviation of a gain. Lognormal factors of sigma 0.4 with one lever in twenty dead (how
cars differ from models, see `benchmarks/closed_loop.py`) have deviation 0.50 and correlation 0.22 between
phases; more where model and rule of thumb are far apart."""
MEDIAN = 1.0
"""Prior mean of a gain."""
GROUP_LIKE, MOVE_LIKE = 0.25, 0.2
"""How alike the gains of one move are inside a phase group, and between groups (correlation; judgement)."""
NOISE = 0.18
"""Deviation of one report from what the car did, feel (design figure 0.15, and words are rough)."""
SOURCE = "source"
"""The lever that is no lever: its five gains are how far the car leans to what the model alone says, where
model and rule of thumb differ (0: their weighed mean, 1: the model; the rule is on the other side)."""
LEAN, LEAN_SD, LEAN_LIKE = 0.35, 0.7, 0.8
"""Prior mean and deviation of that, and how alike it is between phases (correlation; judgement)."""
_GROUP = [next(i for i, g in enumerate(PHASE_GROUPS.values()) if p in g) for p in PHASES]


@dataclass(frozen=True, slots=True)
class Push:
    """A lever that was moved: clicks of the setting, its plain `step` per click on the 15 balance channels
    (before any gain), and the relative deviation `doubt` of that step per phase. `other`: what the model
    alone says of a click, less `step`; none where no rule of thumb speaks."""

    lever: str
    clicks: float
    step: tuple[float, ...]
    doubt: tuple[float, ...]
    other: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Heard:
    """Something heard: the mean of `channels` (indices into BALANCE) lies in low..high, feel.

    `change` True: not the balance itself but what the last pushes did to it."""

    channels: tuple[int, ...]
    low: float
    high: float
    change: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Knowledge:
    """The belief: `mean` [15 + 5 * levers], `cov`, the levers that have gains, the last pushes, and how many
    reports."""

    mean: Array
    cov: Array
    levers: tuple[str, ...] = ()
    last: tuple[Push, ...] = ()
    reports: int = 0
    stages: frozenset[str] = frozenset()
    """Run stages the driver has spoken of by name."""

    def columns(self, lever: str) -> slice:
        """Where a lever's five gains stand."""
        start = N + P * self.levers.index(lever)
        return slice(start, start + P)


@dataclass(frozen=True, slots=True)
class GainView:
    """What was learned of a lever in a phase group: the car does `mean` times what the model says, give or
    take `sd`."""

    lever: str
    group: str
    mean: float
    sd: float


def _prior() -> Knowledge:
    phase = np.abs(np.subtract.outer(np.arange(P), np.arange(P)))
    stage = np.abs(np.subtract.outer(np.arange(len(STAGES)), np.arange(len(STAGES))))
    like = np.kron(STAGE_LIKE**stage, PHASE_LIKE**phase).astype(np.float64)
    return Knowledge(np.zeros(N), PRIOR_BALANCE**2 * like)


UNKNOWN = _prior()
"""Nothing heard yet."""


def carried(knowledge: Knowledge, pushes: Iterable[Push]) -> Knowledge:
    """The belief after some moves were made."""
    pushes = tuple(pushes)
    for push in pushes:
        knowledge = _with_lever(knowledge, push)
    matrix = np.eye(len(knowledge.mean))
    for push in pushes:
        for lever, effect in _effects(push):
            matrix[:N, knowledge.columns(lever)] += effect
    return replace(
        knowledge, mean=matrix @ knowledge.mean, cov=matrix @ knowledge.cov @ matrix.T, last=pushes
    )


def drifted(knowledge: Knowledge, sd: float = DRIFT) -> Knowledge:
    """The belief after the world has moved on by about `sd` feel, all channels mostly together."""
    cov = knowledge.cov.copy()
    cov[:N, :N] += UNKNOWN.cov * (sd / PRIOR_BALANCE) ** 2
    return replace(knowledge, cov=cov)


def heard(knowledge: Knowledge, intervals: Iterable[Heard], stages: Iterable[str] = ()) -> Knowledge:
    """The belief after a report; intervals are taken in order."""
    mean, cov = knowledge.mean, knowledge.cov
    for one in intervals:
        row = _row(knowledge, one)
        if row.any():
            mean, cov = _cut(mean, cov, row, one.low, one.high)
    return replace(
        knowledge,
        mean=mean,
        cov=cov,
        reports=knowledge.reports + 1,
        stages=knowledge.stages | frozenset(stages),
    )


def gains(knowledge: Knowledge) -> tuple[GainView, ...]:
    """What was learned, per lever and phase group, in the order the levers were first moved."""
    found = []
    for lever in knowledge.levers:
        if lever == SOURCE:
            continue
        at = knowledge.columns(lever)
        for index, group in enumerate(PHASE_GROUPS):
            members = np.array([at.start + p for p in range(P) if _GROUP[p] == index])
            mean = float(knowledge.mean[members].mean())
            sd = float(np.sqrt(knowledge.cov[np.ix_(members, members)].mean()))
            found.append(GainView(lever, group, round(mean, 3), round(sd, 3)))
    return tuple(found)


def leaning(knowledge: Knowledge) -> tuple[float, float] | None:
    """How far the car leans to the model where model and rule of thumb differ, and how unsure that is; None
    while nothing was moved on which they do."""
    if SOURCE not in knowledge.levers:
        return None
    at = knowledge.columns(SOURCE)
    return float(knowledge.mean[at].mean()), float(np.sqrt(knowledge.cov[at, at].mean()))


def balance_now(knowledge: Knowledge) -> Mapping[str, tuple[float, float]]:
    """Balance channel → (mean, deviation), feel against what the driver likes."""
    spread = np.sqrt(np.diag(knowledge.cov)[:N])
    return {c: (float(knowledge.mean[i]), float(spread[i])) for i, c in enumerate(BALANCE)}


def gain_prior(spread: Iterable[float]) -> Array:
    """Covariance [5, 5] of a new move's gains from their deviations per phase."""
    group = np.array(_GROUP)
    like = np.where(group[:, None] == group[None, :], GROUP_LIKE, MOVE_LIKE)
    np.fill_diagonal(like, 1.0)
    sd = np.array(tuple(spread))
    cov: Array = like * sd[:, None] * sd[None, :]
    return cov


def lean_prior() -> Array:
    """Covariance [5, 5] of how far the car leans to the model."""
    like = np.full((P, P), LEAN_LIKE)
    np.fill_diagonal(like, 1.0)
    return like * LEAN_SD**2


def _with_lever(knowledge: Knowledge, push: Push) -> Knowledge:
    if push.other and SOURCE not in knowledge.levers:
        knowledge = _widened(knowledge, SOURCE, LEAN, lean_prior())
    if push.lever in knowledge.levers:
        return knowledge
    return _widened(knowledge, push.lever, MEDIAN, gain_prior(push.doubt))


def _widened(knowledge: Knowledge, lever: str, middle: float, prior: Array) -> Knowledge:
    """The belief with one lever more."""
    size = len(knowledge.mean)
    cov = np.zeros((size + P, size + P))
    cov[:size, :size] = knowledge.cov
    cov[size:, size:] = prior
    mean = np.concatenate([knowledge.mean, np.full(P, middle)])
    return replace(knowledge, mean=mean, cov=cov, levers=(*knowledge.levers, lever))


def _effects(push: Push) -> list[tuple[str, Array]]:
    """What the gains of each lever behind a push add to the balance [15, 5]."""
    found = [(push.lever, push.step)] + ([(SOURCE, push.other)] if push.other else [])
    return [(lever, _spread_out(push.clicks * np.array(step))) for lever, step in found]


def _spread_out(step: Array) -> Array:
    return np.concatenate([np.diag(row) for row in step.reshape(len(STAGES), P)])


def _row(knowledge: Knowledge, one: Heard) -> Array:
    row = np.zeros(len(knowledge.mean))
    channels = list(one.channels)
    if not one.change:
        row[channels] = 1.0 / len(channels)
        return row
    for push in knowledge.last:
        for lever, effect in _effects(push):
            row[knowledge.columns(lever)] += effect[channels].mean(axis=0)
    return row


def _cut(mean: Array, cov: Array, row: Array, low: float, high: float) -> tuple[Array, Array]:
    """The normal belief after `row @ x + noise` was found in low..high: first two moments matched."""
    lean = cov @ row
    spread = float(row @ lean) + NOISE**2
    sd, middle = sqrt(spread), float(row @ mean)
    m, v = cut_normal((low - middle) / sd, (high - middle) / sd)
    weight = lean / spread
    return mean + weight * (sd * m), cov - np.outer(weight, weight) * (spread * (1.0 - v))


def cut_normal(low: float, high: float) -> tuple[float, float]:
    """Mean and variance of a standard normal cut to low..high (Johnson, Kotz, Balakrishnan, Continuous
    Univariate Distributions 1, section 13.10.1). Far in the tail the interval's near end stands in for
    both."""
    if low > 0.0:
        m, v = cut_normal(-high, -low)
        return -m, v
    if high < -6.0:
        return high, 0.01
    mass = 0.5 * (erfc(-high / sqrt(2.0)) - erfc(-low / sqrt(2.0)))
    a, b = (exp(-x * x / 2.0) / sqrt(2.0 * pi) for x in (low, high))
    m = (a - b) / mass
    v = 1.0 + (low * a - high * b) / mass - m * m
    return m, min(1.0, max(v, 1e-3))
