"""Levers: where the belief of `engine.learning` and a response meet. What was learned goes into the response,
and what a plan moves comes out as pushes to learn from. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from engine.car import Move
from engine.learning import GAIN_SD, SOURCE, Knowledge, N, P, Push
from engine.memo import Memo
from engine.response import Array, Response
from grammar.intent import STAGES

__all__ = ["Table", "applied", "doubt", "levers_of", "plain_step", "pushes_of", "table_of"]

LEAST_GAIN = 0.02
"""What a lever is left with, whatever was heard: no report turns a lever's sign round."""
APART = 0.5
"""Deviation of a step over its distance from what the model alone says, besides what the car's leaning to one
source explains (judgement: tuned on `benchmarks/closed_loop.py`)."""
SMALL = 1e-6


@dataclass(frozen=True, eq=False, slots=True)
class Table:
    """The levers of a response side by side: `at` name → row; per click, before any gain, on the 15 balance
    channels: `plain` step, `other` (the model alone, less `plain`), `bend`; `doubt` [L, 5], the relative
    deviation of a fresh gain; `share` [moves, L], clicks of each lever in one click of a move."""

    at: Mapping[str, int]
    plain: Array
    other: Array
    bend: Array
    doubt: Array
    share: Array


def levers_of(move: Move, singles: Mapping[str, tuple[int, int]]) -> dict[str, int]:
    """The levers a move pushes and the clicks of each; a move that cannot be split is a lever of its own."""
    return dict(move.parts) if all(key in singles for key in move.parts) else {move.key: 1}


def plain_step(lever: str, response: Response) -> tuple[Array, Array]:
    """A lever's step [15] per click before any gain, and its relative deviation [5]."""
    table = table_of(response)
    row = table.at[lever]
    return table.plain[row], table.doubt[row]


def spread_of(plain: Array, sd: Array, model: Array) -> Array:
    """Deviation of plain steps [..., 15]: their own, or a share of how far the rule of thumb has drawn them
    away from what the model says, whichever is more.

    Two sources that contradict each other leave more doubt than either owns to (the reasoning of the scale
    factor S, Particle Data Group, Review of Particle Physics, Introduction 5.2.2; from memory)."""
    return np.maximum(np.abs(sd), APART * np.abs(model - plain))


_TABLES: Memo[Table] = Memo(64)


def table_of(response: Response) -> Table:
    """The levers of a response, whatever was learned since; remembered for the responses seen last."""
    origin = response.before or response
    return _TABLES.get((origin,), None, lambda: _table(origin))


def _table(response: Response) -> Table:
    singles = response.singles
    split = [levers_of(move, singles) for move in response.moves]
    at = {name: i for i, name in enumerate(dict.fromkeys(name for one in split for name in one))}
    places = [singles.get(name, (response.rows.get(name, 0), 1)) for name in at]
    row, clicks = np.array(places, np.int64).reshape(-1, 2).T
    each = clicks.astype(np.float64)[:, None]
    plain, model = response.step[row, :N] / each, response.model[row, :N] / each
    bend = np.zeros_like(plain) if response.bend is None else response.bend[row, :N] / each**2
    share = np.zeros((len(split), len(at)))
    for i, one in enumerate(split):
        share[i, [at[name] for name in one]] = list(one.values())
    doubt = doubts(plain, spread_of(plain, response.sd[row, :N] / each, model))
    return Table(at, plain, model - plain, bend, doubt, share)


def applied(knowledge: Knowledge | None, response: Response) -> Response:
    """The response with every learned gain in it: step, sd, bend and `gain` of the balance channels of moves
    whose levers were tried, and of all that model and rule differ on once there is something to lean by."""
    if knowledge is None or not knowledge.levers:
        return response
    table = table_of(response)
    mean, known = _gains_of(knowledge, table)
    lean, unsure = _lean_of(knowledge)
    own = table.plain * mean + table.other * lean
    turned = own * np.sign(table.plain) < LEAST_GAIN * np.abs(table.plain)
    learned = table.share @ np.where(turned, LEAST_GAIN * table.plain, own)
    variance = table.share**2 @ (table.plain * known) ** 2 + (table.share @ table.other * unsure) ** 2
    tried = [row for name, row in table.at.items() if name in knowledge.levers]
    touched = (table.share[:, tried] != 0).any(axis=1)
    if SOURCE in knowledge.levers:
        touched |= (np.abs(table.share @ table.other) > SMALL).any(axis=1)
    step, sd, gain = response.step.copy(), response.sd.copy(), response.gain.copy()
    bend = None if response.bend is None else response.bend.copy()
    whole = touched[:, None] & (np.abs(response.step[:, :N]) > SMALL)
    gain[:, :N] = np.where(whole, learned / np.where(whole, response.step[:, :N], 1.0), 1.0)
    step[:, :N] = np.where(whole, learned, response.step[:, :N])
    sd[:, :N] = np.where(touched[:, None], np.sqrt(variance), response.sd[:, :N])
    if bend is not None:
        bend[:, :N] = np.where(touched[:, None], table.share**2 @ (table.bend * mean), bend[:, :N])
    return replace(response, step=step, sd=sd, gain=gain, bend=bend, before=response.before or response)


def _gains_of(knowledge: Knowledge, table: Table) -> tuple[Array, Array]:
    """Mean and deviation of every lever's gains on the 15 channels [L, 15]."""
    mean, known = np.ones((len(table.at), P)), table.doubt.copy()
    for lever in knowledge.levers:
        row = table.at.get(lever)
        if row is not None:
            at = knowledge.columns(lever)
            mean[row] = np.maximum(knowledge.mean[at], LEAST_GAIN)
            known[row] = np.sqrt(np.diag(knowledge.cov)[at])
    return np.tile(mean, len(STAGES)), np.tile(known, len(STAGES))


def _lean_of(knowledge: Knowledge) -> tuple[Array, Array]:
    """How far the car leans to the model alone [15], and how unsure that is."""
    if SOURCE not in knowledge.levers:
        return np.zeros(N), np.zeros(N)
    at = knowledge.columns(SOURCE)
    return np.tile(knowledge.mean[at], len(STAGES)), np.tile(np.sqrt(np.diag(knowledge.cov)[at]), len(STAGES))


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
    table = table_of(response)
    found = []
    for key, count in clicks:
        for lever, each in levers_of(response.moves[response.rows[key]], response.singles).items():
            found.append(_push(lever, float(count * each), table))
    return tuple(found)


def _push(lever: str, clicks: float, table: Table) -> Push:
    """A lever moved; its step is the mean one over the clicks it goes, its bend included."""
    row = table.at[lever]
    step = (table.plain[row] + clicks * table.bend[row]).round(5)
    other = table.other[row].round(5)
    said = tuple(other.tolist()) if other.any() else ()
    return Push(lever, clicks, tuple(step.tolist()), tuple(table.doubt[row].tolist()), said)
