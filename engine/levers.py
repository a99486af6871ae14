"""Levers: where the belief of `engine.learning` and a response meet. What was learned goes into the response,
and what a plan moves comes out as pushes to learn from. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from engine.car import Move
from engine.learning import GAIN_SD, Knowledge, N, P, Push
from engine.memo import Memo
from engine.response import Array, Response
from grammar.intent import STAGES

__all__ = ["applied", "doubt", "levers_of", "plain_step", "pushes_of"]

LEAST_GAIN = 0.02
APART = 1.5
"""Deviation of a step over its distance from what the model alone says (judgement: tuned on
`benchmarks/closed_loop.py`, 1 and 1.5 tried)."""
SMALL = 1e-6


def levers_of(move: Move, singles: Mapping[str, tuple[int, int]]) -> dict[str, int]:
    """The levers a move pushes and the clicks of each; a move that cannot be split is a lever of its own."""
    return dict(move.parts) if all(key in singles for key in move.parts) else {move.key: 1}


def plain_step(lever: str, response: Response, singles: Mapping[str, tuple[int, int]]) -> tuple[Array, Array]:
    """A lever's step [15] per click before any gain, and its deviation."""
    if lever in singles:
        row, clicks = singles[lever]
    else:
        row, clicks = response.rows[lever], 1
    plain = response.step[row, :N] / response.gain[row, :N] / clicks
    return plain, spread_of(plain, response.sd[row, :N] / clicks, response.model[row, :N] / clicks)


def spread_of(plain: Array, sd: Array, model: Array) -> Array:
    """Deviation of plain steps [..., 15]: their own, or how far the rule of thumb has drawn them away from
    what the model says, whichever is more.

    Two sources that contradict each other leave more doubt than either owns to (the reasoning of the scale
    factor S, Particle Data Group, Review of Particle Physics, Introduction 5.2.2; from memory)."""
    return np.maximum(np.abs(sd), APART * np.abs(model - plain))


def applied(knowledge: Knowledge | None, response: Response) -> Response:
    """The response with every learned gain in it: step, sd and `gain` of the balance channels of moves whose
    levers were tried."""
    if knowledge is None or not knowledge.levers:
        return response
    step, sd, gain = response.step.copy(), response.sd.copy(), response.gain.copy()
    singles = response.singles
    for row, move in enumerate(response.moves):
        levers = levers_of(move, singles)
        if not levers.keys() & set(knowledge.levers):
            continue
        learned, variance = np.zeros(N), np.zeros(N)
        for lever, clicks in levers.items():
            plain, spread = plain_step(lever, response, singles)
            mean, known = _gain_of(knowledge, lever, plain, spread)
            learned += clicks * plain * mean
            variance += (clicks * plain * known) ** 2
        whole = np.abs(response.step[row, :N]) > SMALL
        gain[row, :N] = np.where(whole, learned / np.where(whole, response.step[row, :N], 1.0), 1.0)
        step[row, :N] = np.where(whole, learned, response.step[row, :N])
        sd[row, :N] = np.sqrt(variance)
    return replace(response, step=step, sd=sd, gain=gain)


def _gain_of(knowledge: Knowledge, lever: str, plain: Array, spread: Array) -> tuple[Array, Array]:
    """Mean and deviation of a lever's gain on the 15 channels."""
    if lever not in knowledge.levers:
        return np.ones(N), np.tile(doubt(plain, spread), len(STAGES))
    at = knowledge.columns(lever)
    mean = np.maximum(knowledge.mean[at], LEAST_GAIN)
    return np.tile(mean, len(STAGES)), np.tile(np.sqrt(np.diag(knowledge.cov)[at]), len(STAGES))


def doubt(step: Array, sd: Array) -> tuple[float, ...]:
    """Relative deviation of a plain step [15] per phase, kept within GAIN_SD."""
    return tuple(doubts(step, sd).tolist())


def doubts(step: Array, sd: Array) -> Array:
    """The same of several steps [..., 15], as [..., phases]."""
    shape = (*step.shape[:-1], -1, P)
    size, spread = np.abs(step).reshape(shape).mean(axis=-2), sd.reshape(shape).mean(axis=-2)
    return np.asarray(np.clip(spread / np.maximum(size, 1e-9), *GAIN_SD))


def pushes_of(response: Response, clicks: Iterable[tuple[str, int]]) -> tuple[Push, ...]:
    """The levers a plan moves; `response` may have gains applied."""
    found = []
    for key, count in clicks:
        for lever, each in levers_of(response.moves[response.rows[key]], response.singles).items():
            found.append(Push(lever, float(count * each), *_known(lever, response)))
    return tuple(found)


Known = tuple[list[float], list[float]]
_KNOWN: Memo[Mapping[str, Known]] = Memo(64)


def _known(lever: str, response: Response) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """A lever's plain step and its relative deviation per phase; those of single settings are remembered for
    the responses seen last."""
    known = _KNOWN.get((response,), None, lambda: _all_known(response)).get(lever)
    if known is None:
        plain, spread = plain_step(lever, response, response.singles)
        known = plain.tolist(), list(doubt(plain, spread))
    return tuple(round(x, 5) for x in known[0]), tuple(known[1])


def _all_known(response: Response) -> Mapping[str, Known]:
    """`plain_step` and `doubt` of all single settings at once."""
    row, clicks = np.array(list(response.singles.values()), np.int64).reshape(-1, 2).T
    each = clicks[:, None]
    plain = response.step[row, :N] / response.gain[row, :N] / each
    spread = spread_of(plain, response.sd[row, :N] / each, response.model[row, :N] / each)
    return dict(
        zip(response.singles, zip(plain.tolist(), doubts(plain, spread).tolist(), strict=True), strict=True)
    )
