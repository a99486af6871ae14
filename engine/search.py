"""The exact search for the fewest changes: best plans of a `Problem`, proved within the cap on moves.

First the cures, sets of 1, 2, ... items. If there are not enough of them, the plans that meet the earlier
levels and fall least short in the next, down to those that meet no level in full.
"""

import numpy as np

from engine.problem import Problem, Solution
from engine.search_bounds import weigh
from engine.search_scores import Pool, Score, nothing, plan_of
from engine.search_tables import lay_out
from engine.search_walk import Bar, Capped, Meter, Walk

CAP = 5_000_000
"""Options looked at before giving up the proof; about half a second."""


def solve(problem: Problem, plans: int = 3, cap: int = CAP) -> Solution:
    """The best `plans` plans, each set of items no superset of an earlier one; `cap` bounds the options
    looked at."""
    hunt = _Hunt(problem, plans, cap)
    complete = True
    try:
        hunt.run()
    except Capped:
        complete = False
    best = [score for score in hunt.pool.best() if score[4]] or [nothing(hunt.tables)]
    return Solution(tuple(plan_of(problem, s) for s in best), complete, hunt.meter.nodes, problem.max_moves)


def curable(problem: Problem, cap: int = CAP) -> bool | None:
    """Whether any allowed plan meets every want; None when the cap was reached before that was known."""
    hunt = _Hunt(problem, 1, cap)
    if not hunt.tables.needs:
        return True
    try:
        return hunt.cure()
    except Capped:
        return None


class _Hunt:
    """One solve: the tables, the meter and the pool it fills."""

    def __init__(self, problem: Problem, plans: int, cap: int) -> None:
        self.tables = lay_out(problem)
        self.moves = min(problem.max_moves, len(self.tables.keys))
        self.meter = Meter(cap)
        self.pool = Pool(self.tables, list(problem.forbidden), plans)
        index = {key: i for i, key in enumerate(self.tables.keys)}
        self.forbidden = [
            np.array([index[key] for key in keys], np.int64)
            for keys in problem.forbidden
            if keys <= index.keys()
        ]

    def run(self) -> None:
        """Fill the pool with every plan that could be picked.

        A plan found late can strike out an earlier candidate as its superset and so raise the bar after it
        was used; then the walk is done once more from the higher bar."""
        self.pool.add(nothing(self.tables))
        if not self.tables.needs:
            return
        last = self.pool.last()
        while True:
            lowest = self._pass(last)
            last = self.pool.last()
            if last is None or lowest is None or last <= lowest:
                return

    def _pass(self, lowest: Score | None) -> Score | None:
        """One walk over all sizes; returns the lowest bar used."""
        for moves in range(1, self.moves + 1):
            bar = self._bar(lowest)
            weighing = weigh(self.tables, bar.level, self.moves)
            for leaves in Walk(self.tables, weighing, moves, bar, self.forbidden, self.meter).leaves():
                self.pool.offer(leaves)
                last = self.pool.last()
                if last is not None and (lowest is None or last < lowest):
                    lowest = last
                    now = self._bar(lowest)
                    bar.short, bar.moves, bar.cost = now.short, now.moves, now.cost
        return lowest

    def _bar(self, score: Score | None) -> Bar:
        if score is None:
            return Bar((np.inf,) * len(self.tables.level_starts))
        return Bar(score[0], score[1], score[2])

    def cure(self) -> bool:
        """Whether any plan meets every want."""
        bar = Bar((0,) * len(self.tables.level_starts))
        for moves in range(1, self.moves + 1):
            weighing = weigh(self.tables, bar.level, self.moves)
            for leaves in Walk(self.tables, weighing, moves, bar, self.forbidden, self.meter).leaves():
                if len(leaves):
                    return True
        return False
