"""Reference for the search: tries every plan, in plain whole-number Python, straight from `engine.problem`'s
docstring.

Shares nothing with `engine.search*` but the problem's data types."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product
from math import isinf

from engine.problem import TICK, Band, Problem, Want

Clicks = dict[int, int]
Score = tuple[tuple[int, ...], int, int, int]
"""Shortfall in grains per level, moves, cost in ticks squared, movement in ticks."""


def ticks(value: float) -> float:
    """Whole ticks, infinities as they are."""
    return value if isinf(value) else round(value / TICK)


@dataclass(frozen=True)
class Judge:
    """The problem in whole ticks."""

    problem: Problem
    effects: list[list[int]]

    @classmethod
    def of(cls, problem: Problem) -> "Judge":
        """Round the effects once."""
        return cls(problem, [[round(float(e) / TICK) for e in row] for row in problem.effects])

    def delta(self, clicks: Clicks, channel: int) -> int:
        """Change of a channel."""
        return sum(count * self.effects[i][channel] for i, count in clicks.items())

    def got(self, want: Want, clicks: Clicks) -> int:
        """What a want gets, its own way positive."""
        weights = [round(part.weight / TICK) for part in want.parts]
        total = 0
        for i, count in clicks.items():
            exact = sum(w * self.effects[i][p.channel] for w, p in zip(weights, want.parts, strict=True))
            total += count * ((exact + 5_000) // 10_000)
        return total if want.target > 0 else -total

    def allows(self, clicks: Clicks) -> bool:
        """Whether a plan is allowed."""
        p = self.problem
        keys = {p.items[i].key for i in clicks}
        touched = [s for i in clicks for s in p.items[i].settings]
        return (
            len(clicks) <= p.max_moves
            and len(touched) == len(set(touched))
            and not any(f <= keys for f in p.forbidden)
            and all(low <= clicks.get(i, 0) <= high for i, (low, high) in enumerate(p.ranges()))
            and all(self._wanted_way(want, clicks) for want in p.wants)
            and all(
                ticks(b.low) <= self.delta(clicks, b.channel) <= ticks(b.high)
                for b in p.bands
                if b.penalty is None
            )
            and all(
                ticks(r.low) <= sum(ticks(f) * clicks.get(i, 0) for i, f in r.terms) <= ticks(r.high)
                for r in p.links
            )
        )

    def _wanted_way(self, want: Want, clicks: Clicks) -> bool:
        size, sign = abs(want.target), 1 if want.target > 0 else -1
        wrong = [
            sum(max(0, -sign * count * self.effects[i][part.channel]) for i, count in clicks.items())
            for part in want.parts
        ]
        return self.got(want, clicks) <= ticks(size * (1 + want.tolerance)) and all(
            w <= ticks(want.undo * size) for w in wrong
        )

    def score(self, clicks: Clicks) -> Score:
        """What plans are compared by."""
        p = self.problem
        levels: dict[int, float] = {want.level: 0.0 for want in sorted(p.wants, key=lambda w: w.level)}
        for want in p.wants:
            levels[want.level] += self._lack(want, clicks)
        grain = round(p.grain / TICK)
        short = tuple(int(-(-lack // grain)) for lack in levels.values())
        reach = sum(round(p.items[i].reach / TICK) for i in clicks) * 10_000
        side = max((self._side(band, clicks) for band in p.bands), default=0)
        penalty = sum(self._penalty(band, clicks) for band in p.bands)
        movement = sum(round(p.items[i].weight / TICK) * abs(count) for i, count in clicks.items())
        return short, len(clicks), int(reach + side + penalty), movement

    def _lack(self, want: Want, clicks: Clicks) -> float:
        size, sign = abs(want.target), 1 if want.target > 0 else -1
        near = ticks(size * (1 - want.tolerance)) - self.got(want, clicks)
        floors = [ticks(size * want.floor) - sign * self.delta(clicks, part.channel) for part in want.parts]
        return max(0, near, *floors)

    def _side(self, band: Band, clicks: Clicks) -> int:
        change = self.delta(clicks, band.channel)
        bound = band.high if change > 0 else band.low
        return 0 if isinf(bound) else abs(change) * round(band.weight / TICK)

    def _penalty(self, band: Band, clicks: Clicks) -> int:
        if band.penalty is None:
            return 0
        change = self.delta(clicks, band.channel)
        over = max(change - ticks(band.high), ticks(band.low) - change, 0)
        return int(over) * round(band.penalty / TICK)


def every_plan(problem: Problem) -> Iterator[Clicks]:
    """All choices of up to `max_moves` items and clicks, allowed or not."""
    ranges = problem.ranges()
    for size in range(problem.max_moves + 1):
        for chosen in combinations(range(len(ranges)), size):
            options = [[c for c in range(ranges[i][0], ranges[i][1] + 1) if c] for i in chosen]
            for counts in product(*options):
                yield dict(zip(chosen, counts, strict=True))


def best_plans(problem: Problem, plans: int) -> list[tuple[tuple[tuple[str, int], ...], Score]]:
    """The best plans, (key, clicks) in key order with the score, each set no superset of one before it."""
    judge = Judge.of(problem)
    ranked = sorted(
        (judge.score(clicks), tuple(sorted((problem.items[i].key, c) for i, c in clicks.items())))
        for clicks in every_plan(problem)
        if judge.allows(clicks)
    )
    found: list[tuple[tuple[tuple[str, int], ...], Score]] = []
    for score, named in ranked:
        keys = {key for key, _ in named}
        if len(found) < plans and not any({key for key, _ in other} <= keys for other, _ in found):
            found.append((named, score))
    return [found[0]] + [entry for entry in found[1:] if entry[0]]


def is_curable(problem: Problem) -> bool:
    """Whether some allowed plan meets every want."""
    judge = Judge.of(problem)
    return any(judge.allows(clicks) and not any(judge.score(clicks)[0]) for clicks in every_plan(problem))
