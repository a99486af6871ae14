"""Which wishes and limits of a problem a plan breaks, computed from the clicks alone."""

from math import inf

import numpy as np
from numpy.typing import NDArray

from engine.problem import TICK, Kind, Problem, Want

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]


def broken(problem: Problem, kind: Kind, key: str, clicks: Ints) -> Bools:
    """Whether each plan [n, items] of clicks breaks one member of the problem."""
    effects = np.rint(problem.effects / TICK).astype(np.int64)
    if kind == "want":
        return _unmet(next(w for w in problem.wants if w.key == key), effects, clicks)
    if kind == "undo":
        return _undone(next(w for w in problem.wants if w.key == key), effects, clicks)
    if kind == "band":
        band = next(b for b in problem.bands if b.key == key)
        return _outside(clicks @ effects[:, band.channel], band.low, band.high)
    if kind == "link":
        row = next(r for r in problem.links if r.key == key)
        terms = [round(factor / TICK) * clicks[:, item] for item, factor in row.terms]
        return _outside(np.sum(terms, axis=0), row.low, row.high)
    if kind == "limit":
        limit = next(one for one in problem.limits if one.key == key)
        return _any([(clicks[:, i] < low) | (clicks[:, i] > high) for i, low, high in limit.ranges], clicks)
    return np.asarray(np.count_nonzero(clicks, axis=1) > problem.max_moves)


def _unmet(want: Want, effects: Ints, clicks: Ints) -> Bools:
    """Too little, too much, or too little of a part."""
    size, sign = abs(want.target), 1 if want.target > 0 else -1
    weights = np.array([round(part.weight / TICK) for part in want.parts])
    per_click = (effects[:, [part.channel for part in want.parts]] @ weights + 5_000) // 10_000
    parts = sign * (clicks @ effects[:, [part.channel for part in want.parts]])
    total = _outside(sign * (clicks @ per_click), size * (1 - want.tolerance), size * (1 + want.tolerance))
    return total | _any(list((parts < round(size * want.floor / TICK)).T), clicks)


def _undone(want: Want, effects: Ints, clicks: Ints) -> Bools:
    """Wrong-way pushes beyond the share on some part."""
    sign = 1 if want.target > 0 else -1
    pushes = [-sign * clicks * effects[:, part.channel] for part in want.parts]
    wrong = [np.maximum(push, 0).sum(axis=1) for push in pushes]
    return _any([_outside(w, -inf, want.undo * abs(want.target)) for w in wrong], clicks)


def _any(masks: list[Bools], clicks: Ints) -> Bools:
    """Plans [n] for which any mask holds."""
    found = np.zeros(len(clicks), np.bool_)
    for mask in masks:
        found |= mask
    return found


def _outside(values: Ints, low: float, high: float) -> Bools:
    """Outside a band given in units, values in ticks."""
    result = np.zeros(len(values), np.bool_)
    if low > -inf:
        result |= values < round(low / TICK)
    if high < inf:
        result |= values > round(high / TICK)
    return result
