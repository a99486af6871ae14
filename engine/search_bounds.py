"""Weighted sums of rows: one number per option that says early that a set of options leads nowhere.

For weights y >= 0 on rows of the form `push >= bound`, every plan that keeps the rows has `y @ push >= y @
bound`. If even the best m items cannot reach that, no plan of m items exists (the Lagrangian dual of the
problem). Where needs may fall short, the same sum bounds the shortfall from below. The weights are found by a
few subgradient steps in floating point and then made whole, so the bound itself is exact.
"""

from dataclasses import dataclass

import numpy as np

from engine.problem import Array
from engine.search_tables import Ints, Tables

ROUNDS = 16
WHOLE = 2.0**20


@dataclass(frozen=True, eq=False)
class Weighing:
    """Of a plan that meets the levels below `level`, the gains [O] sum to at least `bound - slack * s`, where
    s is its shortfall in `level` in ticks. With slack 0 all levels are taken as met."""

    gain: Ints
    bound: int
    slack: int
    level: int


def weigh(tables: Tables, level: int, moves: int, rounds: int = ROUNDS) -> Weighing:
    """A weighing for plans of up to `moves` items."""
    needs = int((tables.row_level <= level).sum())
    use = np.concatenate([np.arange(needs), np.arange(tables.needs, len(tables.bound))])
    push, bound = tables.push[use], tables.bound[use]
    unit = np.where(bound != 0, abs(bound), np.maximum(abs(push).max(axis=1), 1)).astype(np.float64)
    soft = tables.row_level[:needs] == level
    unit[:needs][soft] = max(int(bound[:needs].max()), 1)
    y = _ascend(tables, push / unit[:, None], bound / unit, soft, moves, rounds) / unit
    weights = np.zeros(len(tables.bound), np.int64)
    weights[use] = np.rint(y * (WHOLE / max(float(y.max()), 1e-12)))
    total = np.add.reduceat(
        np.where(tables.row_level == level, weights[: tables.needs], 0), tables.want_starts
    )
    return Weighing(weights @ tables.push, int(weights @ tables.bound), int(total.max()), level)


def _ascend(t: Tables, push: Array, bound: Array, soft: Ints, moves: int, rounds: int) -> Array:
    """Weights [rows] by projected subgradient steps. Soft needs keep a sum of at most 1 per want; without
    soft needs all needs together sum to 1."""
    needs = len(soft)
    ends = np.append(t.starts[1:], len(t.item))
    grid = np.minimum(t.starts[:, None] + np.arange(int((ends - t.starts).max())), ends[:, None] - 1)
    every = np.arange(len(grid))
    want = np.searchsorted(t.want_starts, np.arange(needs), side="right") - 1
    rest = max(len(grid) - moves, 0)
    sideways = np.ascontiguousarray(push.T)
    y = np.zeros(len(bound))
    y[t.want_starts[: want[-1] + 1]] = 1.0 if soft.any() else 1.0 / (want[-1] + 1)
    best, best_value = y, -np.inf
    for round_ in range(rounds):
        gain = (sideways @ y)[grid]
        choice = gain.argmax(axis=1)
        most = gain[every, choice]
        top = most.argpartition(rest)[rest:] if rest else every
        top = top[most[top] > 0]
        value = float(y @ bound - most[top].sum())
        if value > best_value:
            best, best_value = y, value
        slope = bound - sideways[grid[top, choice[top]]].sum(axis=0)
        y = np.maximum(y + slope * (1.5 / (1 + 0.6 * round_) / max(float(np.sqrt(slope @ slope)), 1e-9)), 0.0)
        if soft.any():
            total = np.bincount(want, np.where(soft, y[:needs], 0.0))
            y[:needs] /= np.where(soft, np.maximum(total, 1.0)[want], 1.0)
        else:
            y /= max(float(y[:needs].sum()), 1e-9)
    return best
