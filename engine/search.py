"""The exact search for the fewest changes: best plans of a `Problem`, proved within the cap on moves.

Sets of 1, 2, ... items are walked; the best plans found so far are the bar for the rest. Going by size makes
one pass enough: a set is struck out only by a better subset, and every subset was met before.

What makes it fast: each condition is one row of whole numbers in which the pushes of options add up (locks
and caps are ranges, wrong-way pushes are rows of their own). A set is dropped as soon as what may still
follow cannot keep one row. The last item of a set is looked up in a sorted stretch for thousands of sets at
once (`engine.search_finish`).
"""

from collections.abc import Iterable

import numpy as np

from engine.memo import Memo
from engine.problem import Problem, Solution
from engine.search_few import best_of_few, how_few
from engine.search_scores import Best, nothing, plan_of
from engine.search_sieve import Bar, Capped, Meter, Sieve
from engine.search_tables import Ints, Tables, lay_out
from engine.search_walk import walk

CAP = 5_000_000
"""Options looked at before giving up the proof; about a second."""


def solve(problem: Problem, plans: int = 3, cap: int = CAP) -> Solution:
    """The best `plans` plans, each set of items no superset of a better one.

    `cap` bounds the options looked at."""
    hunt = _Hunt(problem, plans, cap)
    complete = True
    try:
        hunt.take_few()
        for moves in hunt.sizes:
            hunt.take(moves)
    except Capped:
        complete = False
    scores = [score for score in hunt.best.scores if score[4]] or [nothing(hunt.tables)]
    found = tuple(plan_of(problem, score) for score in scores)
    return Solution(found, complete, hunt.meter.nodes, problem.max_moves)


def curable(problem: Problem, cap: int = CAP) -> bool | None:
    """Whether any allowed plan meets every want; None when the cap was reached before that was known."""
    cures, complete = find_cures(problem, cap)
    return True if len(cures) else False if complete else None


def find_cures(problem: Problem, cap: int = CAP) -> tuple[Ints, bool]:
    """Some plans that meet every want, as clicks [n, items]: those of the first batch found, of fewest moves.

    None of them and True: there is none. None of them and False: the cap was reached first."""
    hunt = _Hunt(problem, 1, cap)
    none = np.zeros((0, len(problem.items)), np.int64)
    if not any(nothing(hunt.tables)[0]):
        return np.zeros((1, len(problem.items)), np.int64), True
    bar = Bar((0,) * hunt.tables.levels)
    try:
        for moves in hunt.sizes:
            for leaves in walk(Sieve(hunt.tables, moves, bar, hunt.forbidden, hunt.meter)):
                return _clicks(problem, hunt.tables, leaves.picks), True
    except Capped:
        return none, False
    return none, True


def _clicks(problem: Problem, tables: Tables, leaves: Ints) -> Ints:
    """Clicks [n, items of the problem] of leaves [moves, n] of options."""
    place = {item.key: i for i, item in enumerate(problem.items)}
    column = np.array([place[key] for key in tables.keys], np.int64)
    clicks = np.zeros((leaves.shape[1], len(problem.items)), np.int64)
    for options in leaves:
        clicks[np.arange(len(clicks)), column[tables.item[options]]] = tables.clicks[options]
    return clicks


_TABLES: Memo[Tables] = Memo(16, plans=True)


def _tables(problem: Problem) -> Tables:
    """`lay_out`, remembered: the same problem is often asked about twice (is there a cure; which is best)."""
    return _TABLES.get((problem,), None, lambda: lay_out(problem))


class _Hunt:
    """One solve: tables, meter, and the best plans so far; doing nothing is the first of them."""

    def __init__(self, problem: Problem, plans: int, cap: int) -> None:
        self.tables, self.meter = _tables(problem), Meter(cap)
        self.sizes = range(1, min(problem.max_moves, len(self.tables.keys)) + 1)
        self.best = Best(self.tables, plans, [nothing(self.tables)])
        self.index = {key: i for i, key in enumerate(self.tables.keys)}
        self.forbidden = [self._items(keys) for keys in problem.forbidden if keys <= self.index.keys()]

    def take_few(self) -> None:
        """Offer the sets of so few items that all of them can be looked at together."""
        most, count = how_few(self.tables, self.sizes)
        if most and any(self.best.scores[0][0]):
            self.meter.count(count)
            found = best_of_few(self.tables, most, self.best.plans, self.forbidden)
            self.best = Best(self.tables, self.best.plans, found)
            self.sizes = self.sizes[most:]

    def take(self, moves: int) -> None:
        """Offer all sets of `moves` items that can still be among the best."""
        bar = self._bar()
        if not any(bar.short) and bar.moves < moves:
            return
        cures = [self._items(key for key, _ in score[4]) for score in self.best.scores if not any(score[0])]
        for leaves in walk(Sieve(self.tables, moves, bar, self.forbidden + cures, self.meter)):
            self.best.offer(leaves.picks, leaves.short)
            now = self._bar()
            bar.short, bar.moves, bar.cost = now.short, now.moves, now.cost

    def _bar(self) -> Bar:
        """What the worst of the best plans reaches."""
        last = self.best.scores[-1]
        return Bar(last[0], last[1], last[2])

    def _items(self, keys: Iterable[str]) -> Ints:
        return np.array([self.index[key] for key in keys], np.int64)
