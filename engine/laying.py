"""The integer program of a task: items from moves, wants from needs, bands from guards, limits from
wishes and history."""

from dataclasses import dataclass, fields, replace

from engine.both_ways import NAMED
from engine.car import Move
from engine.memo import Memo
from engine.problem import Band, Item, Limit, LinkRow, Part, Problem, Want
from engine.response import Array
from engine.task import INDEX, SCALE, Task
from engine.wanted import HEAT, Guard, Need
from engine.wishes import Wishes

__all__ = ["lay_problem", "plain_problem", "rows_of_items"]

SIDE_PRICE = 3.0
"""Reach that one feel of the worst side effect costs: a side effect of a third of a feel weighs one place
in the order."""
DOUBT_PRICE = {"race": 1.5, "qualifying": 1.5, "test": -0.3}
"""Reach that a lever of wholly unknown answer costs: known levers in a race, levers that teach in a test."""
FAR = 8.0
"""Reach from which a lever is one of the last: dampers (only after the basic set-up is right: S47, S48),
spoiler, toe, caster."""
GRAIN = 0.05
UNDO, UNDO_BETWEEN, UNDO_HEAT = 0.25, 0.4, 1.0
"""Share of a want that wrong-way pushes on its channels may add up to, so that no change on a list reads as
the undoing of another; more where several complaints pull at one car, and where it boils (judgement)."""
NOT_FOR_BALANCE = ("fuel", "final_drive", "gear_1", "gear_2", "gear_3", "gear_4", "gear_5", "gear_6")
"""Settings nobody changes to cure the balance: they are free only when revs are asked for, fuel never
(common practice, no source)."""

AIR_INTAKE = "grille_tape"
"""Tape is set for the water temperature: where that is not asked for it is used when the driver names it
among the levers he allows (common practice, no source)."""


_PLAIN: Memo[Problem] = Memo(16, plans=True)
_OF_TASK = tuple(f.name for f in fields(Task) if f.name != "wishes")
_OF_WISHES = tuple(f.name for f in fields(Wishes) if f.name != "max_moves")


def plain_problem(task: Task) -> Problem:
    """The integer program of a task by its own response; laid once for tasks that differ in nothing but how
    many moves they allow."""
    own = (getattr(task, name) for name in _OF_TASK)
    wished = (getattr(task.wishes, name) for name in _OF_WISHES)
    laid = _PLAIN.get((*own, *wished), None, lambda: lay_problem(task, task.response.step))
    most = task.wishes.max_moves
    return laid if laid.max_moves == most else replace(laid, max_moves=most, wide_moves=_wide(most))


def lay_problem(task: Task, steps: Array) -> Problem:
    """The integer program of a task; `steps` [moves, channels] is the response to use."""
    rows = rows_of_items(task)
    moves = [task.response.moves[i] for i in rows]
    return Problem(
        items=_items(task, rows),
        effects=_effects(steps, rows),
        wants=tuple(w for need in task.needs if (w := _want(task, need)) is not None),
        bands=_bands(task),
        links=(*_links(task, rows, moves), *_kept(task, moves)),
        limits=tuple(_limits(task, moves)),
        forbidden=_turned_down(task, moves),
        max_moves=task.wishes.max_moves,
        wide_moves=_wide(task.wishes.max_moves),
        grain=GRAIN,
    )


_EFFECTS: Memo[Array] = Memo(64)


def _effects(steps: Array, rows: list[int]) -> Array:
    """The response of some moves, scaled; the same object for the same question."""
    return _EFFECTS.get((steps,), tuple(rows), lambda: steps[rows] / SCALE)


def _wide(moves: int) -> int:
    """How many moves "no cap" means."""
    return max(5, moves + 2)


_BANDS: Memo[tuple[Band, ...]] = Memo(16, plans=True)


def _bands(task: Task) -> tuple[Band, ...]:
    """The guards as bands, laid once for whatever moves are open."""
    return _BANDS.get((task.guards, task.shift), None, lambda: tuple(_band(task, g) for g in task.guards))


def rows_of_items(task: Task) -> list[int]:
    """Rows of the response that may be items."""
    geared = any(c == "top-rpm" for need in task.needs for c, _ in need.parts)
    held = task.asked | {"fuel"} | (set() if geared else set(NOT_FOR_BALANCE))
    cooled = any(c == "water-temperature" for need in task.needs for c, _ in need.parts)
    if not cooled and AIR_INTAKE not in (task.wishes.only or ()):
        held |= {AIR_INTAKE}
    most = NAMED if task.far else FAR
    named, disputed = task.wishes.only or frozenset(), task.disputed
    return [
        i
        for i, m in enumerate(task.response.moves)
        if held.isdisjoint(m.parts)
        and (m.reach < most or (m.reach >= NAMED and set(m.parts) <= named))
        and (i not in disputed or set(m.parts) <= named)
    ]


@dataclass(frozen=True, slots=True)
class _Room:
    """What a move may do from here: clicks within its settings' ranges, and the settings it moves."""

    low: int
    high: int
    settings: frozenset[str]


_ROOMS: Memo[tuple[_Room, ...]] = Memo(128)


def _rooms(task: Task) -> tuple[_Room, ...]:
    """The room of every move of the response; remembered for the set-ups seen last."""
    moves, here = task.response.moves, tuple(task.setup[s.key] for s in task.car.settings)
    return _ROOMS.get((task.car, moves), here, lambda: tuple(_room(task, move) for move in moves))


def _room(task: Task, move: Move) -> _Room:
    low, high = -99, 99
    for key, each in move.parts.items():
        now, last = task.now[key], task.car.setting(key).last
        down, up = (now, last - now) if each > 0 else (last - now, now)
        low, high = max(low, -(down // abs(each))), min(high, up // abs(each))
    return _Room(low, high, frozenset(move.parts))


_ITEMS: Memo[tuple[Item, ...]] = Memo(16, plans=True)


def _items(task: Task, rows: list[int]) -> tuple[Item, ...]:
    """The moves as items; what is little known costs more to reach for, in a test less."""
    price, rooms, moves = DOUBT_PRICE[task.style.session], _rooms(task), task.response.moves
    doubt = task.doubt[rows].tolist()

    def make() -> tuple[Item, ...]:
        return tuple(
            _item(moves[row], rooms[row], price * unsure) for row, unsure in zip(rows, doubt, strict=True)
        )

    return _ITEMS.get((moves, rooms), (price, *rows, *doubt), make)


def _item(move: Move, room: _Room, more: float) -> Item:
    reach = max(0.05, round(move.reach + more, 3))
    return Item(move.key, room.low, room.high, reach, 1.0 / move.cap, room.settings)


def _want(task: Task, need: Need) -> Want | None:
    """The want as it is left after the shift; None when the shift meets it."""
    index = [INDEX[c] for c, _ in need.parts]
    scale = float(SCALE[index[0]])
    left = need.target - float(sum(w * task.shift[i] for i, (_, w) in zip(index, need.parts, strict=True)))
    if left * need.target <= 0 or abs(left) <= need.tolerance * abs(need.target):
        return None
    parts = tuple(Part(i, w) for i, (_, w) in zip(index, need.parts, strict=True))
    undo = UNDO if len(task.needs) == 1 else UNDO_HEAT if task.needs[0].level == HEAT else UNDO_BETWEEN
    return Want(need.key, parts, left / scale, need.tolerance, need.floor, undo, need.level)


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


_LINKS: Memo[list[LinkRow]] = Memo(64)


def _links(task: Task, rows: list[int], moves: list[Move]) -> list[LinkRow]:
    own = (task.car, task.setup, task.response.moves)
    return _LINKS.get(own, tuple(rows), lambda: _links_of(task, moves))


def _links_of(task: Task, moves: list[Move]) -> list[LinkRow]:
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
    for i, move in enumerate(moves if barred else ()):
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
