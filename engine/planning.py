"""From a task to checked plans: solve the integer program, check it on the full model, correct, solve
again."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from engine.car import Setup
from engine.channels import CHANNELS
from engine.hedging import hedge
from engine.laying import plain_problem, rows_of_items
from engine.problem import Limit, Plan, Problem, Solution, Want
from engine.response import Array
from engine.search import solve
from engine.task import INDEX, NEAR, SCALE, Task, harms, is_met, lacking, within_limits

__all__ = ["INDEX", "SCALE", "Draft", "Drafts", "Model", "Task", "apply", "make_plans"]

NOTICEABLE = 0.1
"""Share of a want that makes an item worth building another list on."""
ROUNDS = 4
Model = Callable[[list[Setup]], Array]
"""Set-ups → channels [n, channels] on the full model."""


@dataclass(frozen=True)
class Draft:
    """A plan with what the full model says it does: `deltas` [channels], in channel units, without the
    task's shift."""

    plan: Plan
    setup: Setup
    deltas: Array
    per_move: dict[str, Array]
    """Move key → share of `deltas` that is its own (they add up to `deltas`)."""

    @property
    def moves(self) -> tuple[tuple[str, int], ...]:
        """(move key, clicks) in key order."""
        return self.plan.clicks


@dataclass(frozen=True)
class Drafts:
    """What planning found: the program as it stood when solved last, plans best first, and whether the
    search was complete."""

    problem: Problem
    drafts: tuple[Draft, ...]
    complete: bool
    fullest: Draft | None = None
    """The draft that cures most, where a shorter one that does about as well was put first."""
    likely: float = 0.0
    """See `Solution`."""

    @property
    def most(self) -> Draft:
        """The draft that cures most."""
        return self.fullest or self.drafts[0]


def make_plans(task: Task, model: Model, plans: int, among: frozenset[str] | None = None) -> Drafts:
    """The best plans that hold on the full model, of moves `among` some when given. A plan whose limits do
    not hold there is never returned."""
    steps, problem = task.response.step, _among(plain_problem(task), among)
    for last in range(ROUNDS - 1, -1, -1):
        solution = _solved(task, problem, plans)
        drafts = _checked(task, solution.plans, model, steps)
        wrong = [d for d in drafts if not _holds(task, d)]
        if not wrong or (drafts and wrong[0] is not drafts[0]) or last == 0:
            break
        steps = _corrected(task, steps, wrong[0])
        problem = replace(problem, effects=steps[rows_of_items(task)] / SCALE)
    fit = [d for d in drafts if within_limits(task, d.deltas) and (task.hedged or not harms(task, d.deltas))]
    sound = tuple(sorted(fit, key=lambda d: _standing(task, d)))
    nothing = replace(solution.plans[0], clicks=(), delta=tuple(0.0 for _ in CHANNELS))
    none = Draft(nothing, task.setup, np.zeros(len(CHANNELS)), {})
    return Drafts(problem, sound or (none,), solution.complete, likely=solution.likely)


def _among(problem: Problem, among: frozenset[str] | None) -> Problem:
    """The program with all moves but some at rest."""
    if among is None:
        return problem
    rest = tuple((i, 0, 0) for i, item in enumerate(problem.items) if item.key not in among)
    return replace(problem, limits=(*problem.limits, Limit("among", rest)))


def _standing(task: Task, draft: Draft) -> tuple[bool, int]:
    """What the full model makes of a plan, for a stable sort: cured first, then fewest moves among those
    cured, and least left open, in steps of `NOTICEABLE`, among the others."""
    if task.hedged:
        return (False, 0)
    cured = all(is_met(task, need, draft.deltas) for need in task.needs)
    return (not cured, len(draft.moves) if cured else int(lacking(task, draft.deltas) / NOTICEABLE))


def _useful(problem: Problem, want: Want) -> int:
    """How many items can do a noticeable share of a want: there are no more different lists than that."""
    low, high = np.array(problem.ranges()).reshape(-1, 2).T
    total = problem.effects[:, [part.channel for part in want.parts]] @ [part.weight for part in want.parts]
    sizes = np.maximum(low * total / want.target, high * total / want.target)
    return int(np.count_nonzero(sizes >= NOTICEABLE))


def _solved(task: Task, problem: Problem, plans: int) -> Solution:
    """The exact search; once something was heard of this car's balance, the plans most likely to cure."""
    likely = 0.0
    if task.hedged and task.knowledge is not None:
        found = hedge(problem, task.response, task.knowledge, plans, task.shift)
        if found.plans[0].clicks:
            return found
        likely = found.likely
    enough = max(1, min(plans, *(_useful(problem, want) for want in problem.wants), plans))
    return replace(solve(problem, plans=enough), likely=likely)


def _holds(task: Task, draft: Draft) -> bool:
    """True when the full model bears the plan out; a hedged plan promises the car's limits only."""
    return within_limits(task, draft.deltas) if task.hedged else _as_promised(task, draft, draft.plan)


def apply(task: Task, clicks: tuple[tuple[str, int], ...]) -> Setup:
    """The set-up after a plan."""
    setup = dict(task.setup)
    for key, count in clicks:
        for part, each in task.response.moves[task.response.rows[key]].parts.items():
            setup[part] = task.car.setting(part).value_at(task.now[part] + each * count)
    return setup


def _checked(task: Task, plans: tuple[Plan, ...], model: Model, steps: Array) -> list[Draft]:
    """The plans with the full model's answer; rules and learning keep the share they have in the response.

    Each move on its own is asked for in the same call: `engine.full` keeps it for the reasons."""
    rows = task.response.rows
    setups = [apply(task, plan.clicks) for plan in plans]
    singles = {pair: apply(task, (pair,)) for plan in plans for pair in plan.clicks}
    truth = model([task.setup, *setups, *singles.values()])[: 1 + len(plans)]
    found = []
    for plan, setup, channels in zip(plans, setups, truth[1:], strict=True):
        linear = {key: count * task.response.step[rows[key]] for key, count in plan.clicks}
        promised = {key: count * task.response.model[rows[key]] for key, count in plan.clicks}
        bend = channels - truth[0] - sum(promised.values(), np.zeros(len(CHANNELS)))
        shares = _shares(linear, bend)
        per_move = {key: linear[key] + shares[key] for key in linear}
        found.append(Draft(plan, setup, sum(per_move.values(), np.zeros(len(CHANNELS))), per_move))
    return found


def _shares(linear: dict[str, Array], bend: Array) -> dict[str, Array]:
    """What the full model adds to the straight-line answer, shared out by the size of each move's push."""
    total = sum((np.abs(v) for v in linear.values()), np.zeros(len(CHANNELS)))
    even = 1.0 / max(1, len(linear))
    return {
        key: bend * np.where(total > 1e-9, np.abs(v) / np.maximum(total, 1e-9), even)
        for key, v in linear.items()
    }


def _as_promised(task: Task, draft: Draft, plan: Plan) -> bool:
    """True when the full model keeps what the plan promised: cured needs stay cured, bands and limits
    hold."""
    lacking = dict(plan.lacking)
    for need in task.needs:
        if lacking.get(need.key, 0.0) <= 0 and not is_met(task, need, draft.deltas):
            return False
    b = task.bounds
    slack = np.where(b.limit, 0.0, NEAR * SCALE[b.at])
    change, shift = draft.deltas[b.at], task.shift[b.at]
    low = np.minimum(0.0, b.low - shift) - slack - 1e-6
    high = np.maximum(0.0, b.high - shift) + slack + 1e-6
    return bool(((low <= change) & (change <= high)).all())


def _corrected(task: Task, steps: Array, draft: Draft) -> Array:
    """The response bent so that it gives the full model's answer at this plan."""
    rows = task.response.rows
    bent = steps.copy()
    for key, count in draft.plan.clicks:
        bent[rows[key]] = draft.per_move[key] / count
    return bent
