"""Reference for the search on larger problems: CP-SAT (ortools), one worker, on a model of its own.

Shares with the search only the problem's data types, and with the exhaustive reference only the rounding."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import isinf

from exhaustive import Judge, Score, ticks
from ortools.sat.python import cp_model

from engine.problem import Problem

FAR = 10**13


@dataclass
class Model:
    """The CP-SAT model of a problem; sums are expressions over the clicks."""

    problem: Problem
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)

    def __post_init__(self) -> None:
        self.judge = Judge.of(self.problem)
        ranges = self.problem.ranges()
        new = self.model.new_int_var
        self.up = [new(0, high, "") for _, high in ranges]
        self.down = [new(0, -low, "") for low, _ in ranges]
        self.moved = [self.model.new_bool_var("") for _ in ranges]
        self.clicks = [u - d for u, d in zip(self.up, self.down, strict=True)]
        self._items(ranges)
        self._rows()
        self.short = self._wants()
        self.cost = self._cost()
        self.moves = sum(self.moved)
        weights = [round(item.weight / 1e-4) for item in self.problem.items]
        self.movement = sum(w * (u + d) for w, u, d in zip(weights, self.up, self.down, strict=True))

    def _items(self, ranges: Sequence[tuple[int, int]]) -> None:
        p, model = self.problem, self.model
        for i, (low, high) in enumerate(ranges):
            upwards = model.new_bool_var("")
            model.add(self.up[i] <= high * upwards)
            model.add(self.down[i] <= -low * (1 - upwards))
            model.add(self.up[i] + self.down[i] >= self.moved[i])
            model.add(self.up[i] + self.down[i] <= max(high, -low) * self.moved[i])
        for setting in {s for item in p.items for s in item.settings}:
            model.add_at_most_one(
                m for m, item in zip(self.moved, p.items, strict=True) if setting in item.settings
            )
        model.add(sum(self.moved) <= p.max_moves)
        for keys in p.forbidden:
            self.forbid(keys)

    def forbid(self, keys: frozenset[str]) -> None:
        """Allow no superset of these items."""
        known = [m for m, item in zip(self.moved, self.problem.items, strict=True) if item.key in keys]
        self.model.add(sum(known) <= len(keys) - 1)

    def _delta(self, channel: int) -> cp_model.LinearExprT:
        return sum(e[channel] * c for e, c in zip(self.judge.effects, self.clicks, strict=True))

    def _rows(self) -> None:
        for band in self.problem.bands:
            if band.penalty is None:
                self._between(self._delta(band.channel), band.low, band.high)
        for row in self.problem.links:
            self._between(sum(round(f / 1e-4) * self.clicks[i] for i, f in row.terms), row.low, row.high)

    def _between(self, total: cp_model.LinearExprT, low: float, high: float) -> None:
        if not isinf(low):
            self.model.add(total >= int(ticks(low)))
        if not isinf(high):
            self.model.add(total <= int(ticks(high)))

    def _wants(self) -> list[cp_model.IntVar]:
        """Shortfall in grains per level; ceilings and wrong-way pushes on the way."""
        model, grain = self.model, round(self.problem.grain / 1e-4)
        lacks: dict[int, list[cp_model.IntVar]] = {}
        for want in sorted(self.problem.wants, key=lambda w: w.level):
            size, sign = abs(want.target), 1 if want.target > 0 else -1
            per_click = [self.judge.got(want, {i: 1}) for i in range(len(self.clicks))]
            got = sum(g * c for g, c in zip(per_click, self.clicks, strict=True))
            model.add(got <= int(ticks(size * (1 + want.tolerance))))
            lack = model.new_int_var(0, FAR, "")
            model.add(lack >= int(ticks(size * (1 - want.tolerance))) - got)
            for part in want.parts:
                model.add(lack >= int(ticks(size * want.floor)) - sign * self._delta(part.channel))
                way = [sign * e[part.channel] for e in self.judge.effects]
                wrong = sum(
                    max(0, -w) * u + max(0, w) * d for w, u, d in zip(way, self.up, self.down, strict=True)
                )
                model.add(wrong <= int(ticks(want.undo * size)))
            lacks.setdefault(want.level, []).append(lack)
        shorts = []
        for level in lacks.values():
            short = model.new_int_var(0, FAR, "")
            model.add(grain * short >= sum(level))
            shorts.append(short)
        return shorts

    def _cost(self) -> cp_model.LinearExprT:
        model, p = self.model, self.problem
        worst = model.new_int_var(0, FAR, "")
        total = sum(
            round(item.reach / 1e-4) * 10_000 * m for item, m in zip(p.items, self.moved, strict=True)
        )
        for band in p.bands:
            change, price = self._delta(band.channel), round(band.weight / 1e-4)
            if not isinf(band.high):
                model.add(worst >= price * change)
            if not isinf(band.low):
                model.add(worst >= -price * change)
            if band.penalty is not None:
                over = model.new_int_var(0, FAR, "")
                if not isinf(band.high):
                    model.add(over >= change - int(ticks(band.high)))
                if not isinf(band.low):
                    model.add(over >= int(ticks(band.low)) - change)
                total += round(band.penalty / 1e-4) * over
        return total + worst

    def named(self, solver: cp_model.CpSolver) -> dict[int, int]:
        """Clicks of the solution found."""
        values = [solver.value(u) - solver.value(d) for u, d in zip(self.up, self.down, strict=True)]
        return {i: v for i, v in enumerate(values) if v}


def run(model: cp_model.CpModel) -> tuple[bool, cp_model.CpSolver]:
    """Solve to the end with one worker; whether there is a solution."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.INFEASIBLE), solver.status_name(status)
    return status != cp_model.INFEASIBLE, solver


def find_better(problem: Problem, score: Score, struck: list[frozenset[str]]) -> dict[int, int] | None:
    """A plan that beats `score` and is no superset of a struck set, or None when there is provably none."""
    made = Model(problem)
    for keys in struck:
        made.forbid(keys)
    parts = [*zip(made.short, score[0], strict=True), (made.moves, score[1]), (made.cost, score[2])]
    parts.append((made.movement, score[3]))
    wins = [made.model.new_bool_var("") for _ in parts]
    made.model.add_exactly_one(wins)
    for i, win in enumerate(wins):
        for value, most in parts[:i]:
            made.model.add(value <= most).only_enforce_if(win)
        made.model.add(parts[i][0] <= parts[i][1] - 1).only_enforce_if(win)
    found, solver = run(made.model)
    return made.named(solver) if found else None


def least(problem: Problem, struck: Sequence[frozenset[str]] = ()) -> list[int]:
    """The best plan's shortfalls, moves and cost, minimised one after the other (the usual way to be
    lexicographic)."""
    made, values = Model(problem), []
    for keys in struck:
        made.forbid(keys)
    for goal in (*made.short, made.moves, made.cost):
        made.model.minimize(goal)
        solver = run(made.model)[1]
        values.append(round(solver.objective_value))
        made.model.add(goal <= values[-1])
    return values
