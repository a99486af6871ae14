"""What plans are compared by, and the pool of the best plans found so far."""

from dataclasses import dataclass, field

import numpy as np

from engine.problem import TICK, Array, Plan, Problem
from engine.search_tables import Ints, Tables
from engine.search_walk import shortfalls

Score = tuple[tuple[int, ...], int, int, int, tuple[tuple[str, int], ...]]
"""Shortfall in grains per level, moves, cost in ticks squared, movement in ticks, (key, clicks) in key
order."""


@dataclass(eq=False)
class Pool:
    """Best plan per set of items among what was offered. `picked` are final; `found` are candidates."""

    tables: Tables
    forbidden: list[frozenset[str]]
    plans: int
    picked: list[Score] = field(default_factory=list)
    found: dict[frozenset[str], Score] = field(default_factory=dict)

    def offer(self, leaves: Ints) -> None:
        """Note the best plan of every set among leaves [n, moves] of options, as far as it can still be
        picked."""
        t = self.tables
        if not len(leaves):
            return
        short = shortfalls(t, t.push[: t.needs, leaves].sum(axis=2))
        cost, movement = costs(t, leaves), t.movement[leaves].sum(axis=1)
        by_key = np.sort(leaves, axis=1)  # options lie in key order, then in order of clicks
        order = np.lexsort((*by_key.T[::-1], movement, cost, *short[::-1]))
        _, first = np.unique(t.item[by_key[order]], axis=0, return_index=True)
        last = self.last()
        for i in order[np.sort(first)].tolist():
            score = (tuple(short[:, i].tolist()), leaves.shape[1], int(cost[i]), int(movement[i]))
            if last is not None and score > last[:4]:
                break
            self.add((*score, tuple((t.keys[t.item[o]], int(t.clicks[o])) for o in by_key[i].tolist())))

    def add(self, score: Score) -> None:
        keys = keys_of(score)
        if not any(f <= keys for f in self.forbidden) and (
            keys not in self.found or score < self.found[keys]
        ):
            self.found[keys] = score

    def best(self) -> list[Score]:
        """The candidates that would be picked now, best first; doing nothing ends the list."""
        chosen: list[Score] = []
        sets: list[frozenset[str]] = []
        for keys, score in sorted(self.found.items(), key=lambda entry: entry[1]):
            if len(self.picked) + len(chosen) == self.plans:
                break
            if not any(f <= keys for f in sets):
                chosen.append(score)
                sets.append(keys)
        return chosen

    def last(self) -> Score | None:
        """What the next plan has to beat; None while anything would do."""
        best = self.best()
        ended = best and not best[-1][4]
        return best[-1] if ended or len(self.picked) + len(best) == self.plans else None

    def trim(self) -> Score | None:
        """Forget candidates that can no longer be picked; returns `last`."""
        last = self.last()
        if last is not None:
            self.found = {keys: score for keys, score in self.found.items() if score <= last}
        return last

    def pick(self) -> None:
        """Make the best candidates final."""
        for score in self.best():
            if score[4] or not self.picked:
                self.picked.append(score)
            self.forbidden.append(keys_of(score))
        self.found = {}


def keys_of(score: Score) -> frozenset[str]:
    return frozenset(key for key, _ in score[4])


def nothing(t: Tables) -> Score:
    """The score of doing nothing."""
    short = shortfalls(t, np.zeros((t.needs, 1), np.int64))[:, 0]
    return (tuple(short.tolist()), 0, 0, 0, ())


def costs(t: Tables, leaves: Ints) -> Ints:
    """Cost [n] of leaves [n, moves], in ticks squared: reach, worst side effect, penalties."""
    reach: Ints = t.reach[leaves].sum(axis=1)
    if not len(t.effect):
        return reach
    delta = t.effect[:, leaves[:, 0]]
    for i in range(1, leaves.shape[1]):
        delta = delta + t.effect[:, leaves[:, i]]
    side = np.maximum(delta * t.side_high[:, None], -delta * t.side_low[:, None]).max(axis=0)
    soft, low, high, penalty = t.soft
    if len(soft):
        over = np.maximum(np.maximum(delta[soft] - high[:, None], low[:, None] - delta[soft]), 0)
        reach = reach + penalty @ over
    total: Ints = reach + np.maximum(side, 0)
    return total


def plan_of(problem: Problem, score: Score) -> Plan:
    """A score as a plan, its figures computed afresh from the problem."""
    index = {item.key: i for i, item in enumerate(problem.items)}
    moved = [(problem.items[index[key]], count) for key, count in score[4]]
    rows = np.rint(problem.effects[[index[key] for key, _ in score[4]]] / TICK) * TICK
    delta = np.array([count for _, count in moved], np.float64) @ rows
    change = [float(delta[band.channel]) for band in problem.bands]
    pairs = list(zip(problem.bands, change, strict=True))
    sides = [b.weight * abs(d) for b, d in pairs if np.isfinite(b.high if d > 0 else b.low)]
    penalty = sum(b.penalty * max(d - b.high, b.low - d, 0.0) for b, d in pairs if b.penalty is not None)
    return Plan(
        clicks=score[4],
        shortfall=tuple(round(s * problem.grain, 6) for s in score[0]),
        lacking=tuple((want.key, _lack(problem, i, delta)) for i, want in enumerate(problem.wants)),
        reach=round(sum(item.reach for item, _ in moved), 6),
        side=round(max(sides, default=0.0), 6),
        penalty=round(penalty, 6),
        movement=round(sum(item.weight * abs(count) for item, count in moved), 6),
        delta=tuple(np.round(delta, 6).tolist()),
    )


def _lack(problem: Problem, index: int, delta: Array) -> float:
    """What a want lacks, in channel units."""
    want = problem.wants[index]
    sign = 1 if want.target > 0 else -1
    size = abs(want.target)
    total = sign * sum(part.weight * float(delta[part.channel]) for part in want.parts)
    parts = [want.floor * size - sign * float(delta[part.channel]) for part in want.parts]
    return round(max(size * (1 - want.tolerance) - total, *parts, 0.0), 4)
