"""From needs and response to checked plans: lay the integer program, solve it, check it on the full
model, correct, solve again.

Channels are scaled (`SCALE`) so that one unit of any channel matters about as much as one feel.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from engine.car import Car, Move, Setup
from engine.channels import CHANNELS
from engine.hedging import hedge
from engine.history import History
from engine.learning import Knowledge
from engine.problem import Band, Item, Limit, LinkRow, Part, Plan, Problem, Solution, Want
from engine.response import Array, Response
from engine.search import solve
from engine.style import Style
from engine.wanted import Guard, Need
from engine.wishes import Wishes

INDEX = {channel: i for i, channel in enumerate(CHANNELS)}
SCALES = {
    "water-temperature": 10.0, "top-rpm": 100.0, "straight-speed": 2.0, "lockup-margin": 4.0, "wear": 2.0,
    "wear-gap": 2.0, "pressure-window": 2.0, "camber-window": 1.0,
}  # fmt: skip
SCALE = np.array([1.0 if c.startswith("balance/") else SCALES[c.split("/")[0]] for c in CHANNELS])
"""What weighs as much as one feel, per channel (judgement)."""
SIDE_PRICE = 3.0
"""Reach that one feel of the worst side effect costs: a side effect of a third of a feel weighs one place
in the order."""
DOUBT_PRICE = {"race": 1.5, "qualifying": 1.5, "test": -0.3}
"""Reach that a lever of wholly unknown answer costs: known levers in a race, levers that teach in a test."""
NOTICEABLE = 0.1
"""Share of a want that makes an item worth building another list on."""
ROUNDS = 4
GRAIN = 0.05
WIDER = 1.8
"""How much wider the rest of the corner may move when nothing cures within the usual band: about a slight
complaint."""
NEAR = 0.05
"""How far, in feel, the full model may be from what the plan promised before it is solved again."""
Model = Callable[[list[Setup]], Array]
"""Set-ups → channels [n, channels] on the full model."""


@dataclass(frozen=True)
class Task:
    """Everything a plan is made from. `shift` is what is changed already by settings the driver asked for
    (channels)."""

    car: Car
    setup: Setup
    response: Response
    needs: tuple[Need, ...]
    guards: tuple[Guard, ...]
    wishes: Wishes
    history: History
    style: Style
    shift: Array
    asked: frozenset[str] = frozenset()
    knowledge: Knowledge | None = None

    @property
    def hedged(self) -> bool:
        """True when there are reports to go by and all that is asked for is balance."""
        return (
            self.knowledge is not None and self.knowledge.reports > 0 and all(n.unit_feel for n in self.needs)
        )

    @cached_property
    def doubt(self) -> Array:
        """How little each move's answer is known on what is complained of [moves]: 0 known, 1 not at all."""
        wanted = [INDEX[c] for need in self.needs for c, _ in need.parts]
        size = np.abs(self.response.step[:, wanted]).sum(axis=1)
        spread = self.response.sd[:, wanted].sum(axis=1)
        return np.where(size > 1e-9, np.minimum(1.0, spread / np.maximum(size, 1e-9)), 1.0)

    @cached_property
    def now(self) -> dict[str, int]:
        """Click of every setting."""
        return {s.key: s.click_of(self.setup[s.key]) for s in self.car.settings}


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


def make_plans(task: Task, model: Model, plans: int) -> Drafts:
    """The best plans that hold on the full model. A plan whose limits do not hold there is never returned."""
    steps = task.response.step.copy()
    problem = lay_problem(task, steps)
    for last in range(ROUNDS - 1, -1, -1):
        solution = _solved(task, problem, plans)
        drafts = _checked(task, solution.plans, model, steps)
        wrong = [d for d in drafts if not _holds(task, d)]
        if not wrong or (drafts and wrong[0] is not drafts[0]) or last == 0:
            break
        steps = _corrected(task, steps, wrong[0])
        problem = replace(problem, effects=steps[_rows(task)] / SCALE)
    sound = tuple(
        sorted((d for d in drafts if within_limits(task, d.deltas)), key=lambda d: _standing(task, d))
    )
    nothing = replace(solution.plans[0], clicks=(), delta=tuple(0.0 for _ in CHANNELS))
    return Drafts(
        problem, sound or (Draft(nothing, task.setup, np.zeros(len(CHANNELS)), {}),), solution.complete
    )


def _standing(task: Task, draft: Draft) -> tuple[bool, int]:
    """What the full model makes of a plan, for a stable sort: cured first, then fewest moves among those
    cured."""
    if task.hedged:
        return (False, 0)
    cured = all(is_met(task, need, draft.deltas) for need in task.needs)
    return (not cured, len(draft.moves) if cured else 0)


def _useful(problem: Problem, want: Want) -> int:
    """How many items can do a noticeable share of a want: there are no more different lists than that."""
    ranges = problem.ranges()
    total = sum(part.weight * problem.effects[:, part.channel] for part in want.parts)
    sizes = [
        max(low * t / want.target, high * t / want.target)
        for (low, high), t in zip(ranges, total, strict=True)
    ]
    return sum(size >= NOTICEABLE for size in sizes)


def _solved(task: Task, problem: Problem, plans: int) -> Solution:
    """The exact search; once something was heard of this car's balance, the plans most likely to cure."""
    if task.hedged and task.knowledge is not None:
        found = hedge(problem, task.response, task.knowledge, plans, task.shift)
        if found.plans[0].clicks:
            return found
    return solve(
        problem, plans=max(1, min(plans, *(_useful(problem, want) for want in problem.wants), plans))
    )


def _holds(task: Task, draft: Draft) -> bool:
    """True when the full model bears the plan out; a hedged plan promises the car's limits only."""
    return within_limits(task, draft.deltas) if task.hedged else _as_promised(task, draft, draft.plan)


def lay_problem(task: Task, steps: Array) -> Problem:
    """The integer program of a task; `steps` [moves, channels] is the response to use."""
    rows = _rows(task)
    moves = [task.response.moves[i] for i in rows]
    return Problem(
        items=tuple(_item(task, i) for i in rows),
        effects=steps[rows] / SCALE,
        wants=tuple(w for need in task.needs if (w := _want(task, need)) is not None),
        bands=tuple(_band(task, guard) for guard in task.guards),
        links=(*_links(task, moves), *_kept(task, moves)),
        limits=tuple(_limits(task, moves)),
        forbidden=_turned_down(task, moves),
        max_moves=task.wishes.max_moves,
        wide_moves=max(5, task.wishes.max_moves + 2),
        grain=GRAIN,
    )


def apply(task: Task, clicks: tuple[tuple[str, int], ...]) -> Setup:
    """The set-up after a plan."""
    moves = {m.key: m for m in task.response.moves}
    setup = dict(task.setup)
    for key, count in clicks:
        for part, each in moves[key].parts.items():
            setup[part] = task.car.setting(part).value_at(task.now[part] + each * count)
    return setup


def widened(task: Task) -> Task:
    """The task with the bands on what nobody complained of (and nobody called good) opened by `WIDER`."""
    guards = tuple(
        replace(g, low=g.low * WIDER, high=g.high * WIDER) if g.kind in ("side", "stage") else g
        for g in task.guards
    )
    return replace(task, guards=guards)


def within_limits(task: Task, deltas: Array) -> bool:
    """True when no limit of the car is crossed (or made worse) by the changes."""
    total = deltas + task.shift
    for guard in task.guards:
        if guard.kind == "limit":
            change = total[INDEX[guard.channel]]
            if not min(guard.low, task.shift[INDEX[guard.channel]]) - 1e-6 <= change:
                return False
            if not change <= max(guard.high, task.shift[INDEX[guard.channel]]) + 1e-6:
                return False
    return True


def got(task: Task, need: Need, deltas: Array) -> float:
    """What a need gets from changes of the channels (and the task's shift)."""
    return float(sum(w * (deltas + task.shift)[INDEX[c]] for c, w in need.parts))


def is_met(task: Task, need: Need, deltas: Array, slack: float = NEAR) -> bool:
    """True when the need is inside its interval, give or take `slack` (in feel, or as much of another
    channel)."""
    room = slack * float(SCALE[INDEX[need.parts[0][0]]])
    size = abs(need.target)
    sign = 1.0 if need.target > 0 else -1.0
    change = sign * got(task, need, deltas)
    each = [sign * float((deltas + task.shift)[INDEX[c]]) for c, _ in need.parts]
    return (
        size * (1 - need.tolerance) - room <= change <= size * (1 + need.tolerance) + room
        and min(each) >= size * need.floor - room
    )


NOT_FOR_BALANCE = ("fuel", "final_drive", "gear_1", "gear_2", "gear_3", "gear_4", "gear_5", "gear_6")
"""Settings nobody changes to cure the balance: they are free only when revs are asked for, fuel never
(common practice, no source)."""


def _rows(task: Task) -> list[int]:
    """Rows of the response that may be items."""
    return [i for i, m in enumerate(task.response.moves) if _movable(task, m)]


def _movable(task: Task, move: Move) -> bool:
    if any(k in task.asked for k in move.parts):
        return False
    geared = any(c == "top-rpm" for need in task.needs for c, _ in need.parts)
    return not any(k == "fuel" or (k in NOT_FOR_BALANCE and not geared) for k in move.parts)


def _item(task: Task, row: int) -> Item:
    move = task.response.moves[row]
    low, high = -99, 99
    for key, each in move.parts.items():
        now, last = task.now[key], task.car.setting(key).last
        down, up = (now, last - now) if each > 0 else (last - now, now)
        low, high = max(low, -(down // abs(each))), min(high, up // abs(each))
    doubt = DOUBT_PRICE[task.style.session] * float(task.doubt[row])
    reach = max(0.05, round(move.reach + doubt, 3))
    return Item(move.key, low, high, reach, 1.0 / move.cap, frozenset(move.parts))


def _want(task: Task, need: Need) -> Want | None:
    """The want as it is left after the shift; None when the shift meets it."""
    index = [INDEX[c] for c, _ in need.parts]
    scale = float(SCALE[index[0]])
    left = need.target - float(sum(w * task.shift[i] for i, (_, w) in zip(index, need.parts, strict=True)))
    if left * need.target <= 0 or abs(left) <= need.tolerance * abs(need.target):
        return None
    parts = tuple(Part(i, w) for i, (_, w) in zip(index, need.parts, strict=True))
    return Want(need.key, parts, left / scale, need.tolerance, need.floor, 0.4, need.level)


def _band(task: Task, guard: Guard) -> Band:
    index = INDEX[guard.channel]
    scale, shift = float(SCALE[index]), float(task.shift[index])
    low, high = min(0.0, guard.low - shift) / scale, max(0.0, guard.high - shift) / scale
    price = SIDE_PRICE * guard.price * (1.0 if guard.channel.startswith("balance/") else scale)
    return Band(guard.key, index, low, high, price, fixed=guard.kind == "limit")


def _click_size(task: Task, key: str) -> float:
    setting, now = task.car.setting(key), task.now[key]
    up = now + 1 if now < setting.last else now
    return setting.value_at(up) - setting.value_at(up - 1)


def _row(task: Task, moves: list[Move], first: str, second: str) -> tuple[tuple[int, float], ...]:
    """Change of (first - second) per click of each item."""
    a, b = _click_size(task, first), _click_size(task, second)
    pairs = [(i, a * m.parts.get(first, 0) - b * m.parts.get(second, 0)) for i, m in enumerate(moves)]
    return tuple((i, factor) for i, factor in pairs if factor)


def _links(task: Task, moves: list[Move]) -> list[LinkRow]:
    found = []
    for link in task.car.limits.links:
        split = task.setup[link.first] - task.setup[link.second]
        low, high = min(0.0, link.low - split), max(0.0, link.high - split)
        found.append(
            LinkRow(f"link/{link.label}", _row(task, moves, link.first, link.second), low, high, fixed=True)
        )
    return found


def _kept(task: Task, moves: list[Move]) -> list[LinkRow]:
    return [LinkRow(f"keep/{a}/{b}", _row(task, moves, a, b), 0.0, 0.0) for a, b in task.wishes.kept]


def _limits(task: Task, moves: list[Move]) -> list[Limit]:
    wishes, found = task.wishes, []
    for key in sorted(wishes.locked):
        found.append(_lock(f"not/{key}", [i for i, m in enumerate(moves) if key in m.parts]))
    if wishes.only is not None:
        allowed = wishes.only
        found.append(_lock("only", [i for i, m in enumerate(moves) if not set(m.parts) <= allowed]))
    if wishes.stop_only:
        found.append(_lock("stop-only", [i for i, m in enumerate(moves) if m.where != "stop"]))
    found.append(Limit("round", tuple((i, -m.cap, m.cap) for i, m in enumerate(moves))))
    barred = task.history.barred(task.asked)
    back = []
    for i, move in enumerate(moves):
        up = any((1 if each > 0 else -1) in barred.get(key, ()) for key, each in move.parts.items())
        down = any((-1 if each > 0 else 1) in barred.get(key, ()) for key, each in move.parts.items())
        if up or down:
            back.append((i, 0 if down else -99, 0 if up else 99))
    if back:
        found.append(Limit("history", tuple(back)))
    return found


def _lock(key: str, items: list[int]) -> Limit:
    return Limit(key, tuple((i, 0, 0) for i in items))


def _turned_down(task: Task, moves: list[Move]) -> tuple[frozenset[str], ...]:
    """Sets of items that touch exactly the settings of a list the driver turned down."""
    found = []
    for settings in task.history.passed:
        inside = [m for m in moves if set(m.parts) <= settings]
        singles = frozenset(m.key for m in inside if len(m.parts) == 1)
        if singles:
            found.append(singles)
        found += [
            frozenset({m.key, *(k for k in singles if k not in m.parts)}) for m in inside if len(m.parts) > 1
        ]
    return tuple(dict.fromkeys(found))


def _checked(task: Task, plans: tuple[Plan, ...], model: Model, steps: Array) -> list[Draft]:
    """The plans with the full model's answer; rules and learning keep the share they have in the response."""
    rows = {m.key: i for i, m in enumerate(task.response.moves)}
    setups = [apply(task, plan.clicks) for plan in plans]
    truth = model([task.setup, *setups])
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
    for guard in task.guards:
        i = INDEX[guard.channel]
        slack = 0.0 if guard.kind == "limit" else NEAR * SCALE[i]
        change, shift = float(draft.deltas[i]), float(task.shift[i])
        if (
            not min(0.0, guard.low - shift) - slack - 1e-6
            <= change
            <= max(0.0, guard.high - shift) + slack + 1e-6
        ):
            return False
    return True


def _corrected(task: Task, steps: Array, draft: Draft) -> Array:
    """The response bent so that it gives the full model's answer at this plan."""
    rows = {m.key: i for i, m in enumerate(task.response.moves)}
    bent = steps.copy()
    for key, count in draft.plan.clicks:
        bent[rows[key]] = draft.per_move[key] / count
    return bent
