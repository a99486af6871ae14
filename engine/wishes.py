"""What the driver allows: locked settings, pit stop only, at most so many changes, pairs to keep; and
what he asks to be set."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from engine.car import Car, Setting, Setup
from engine.errors import ValueOutside
from engine.verdict import Fact
from grammar.intent import Limit, Reading, Request

MOST_MOVES = 3
"""Changes in one round when the driver says nothing else (a setting; the builder's tools may allow more)."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """`locked` may not move; `only` (None = all) are the ones that may; `kept` pairs hold their
    difference."""

    locked: frozenset[str] = frozenset()
    only: frozenset[str] | None = None
    stop_only: bool = False
    max_moves: int = MOST_MOVES
    kept: tuple[tuple[str, str], ...] = ()
    strange: tuple[str, ...] = ()
    """Settings spoken of that this car does not have."""


def gather(limits: Iterable[Limit], car: Car, max_moves: int = MOST_MOVES) -> Wishes:
    """The wishes behind the limits of a reading, for this car."""
    locked: set[str] = set()
    only: set[str] = set()
    kept: list[tuple[str, str]] = []
    stop_only, most = False, max_moves
    strange: list[str] = []
    narrowed = False
    for limit in limits:
        here = [key for key in limit.settings if key in car.by_key]
        if limit.settings and not here:
            strange += limit.settings
        if limit.kind == "lift":
            stop_only = stop_only and all(car.setting(key).where == "stop" for key in here)
        elif limit.kind == "not":
            locked |= set(here)
        elif limit.kind == "only":
            narrowed = True
            only |= set(here)
        elif limit.kind == "stop-only":
            stop_only = True
        elif limit.kind == "max-changes" and limit.number is not None:
            most = max(0, limit.number)
        elif limit.kind == "keep" and len(here) == 2 and "split" in limit.span.text.lower():
            kept.append((here[0], here[1]))
        elif limit.kind == "keep":
            locked |= set(here)
    return Wishes(
        frozenset(locked),
        frozenset(only) if narrowed else None,
        stop_only,
        most,
        tuple(kept),
        strange=tuple(dict.fromkeys(strange)),
    )


def in_force(limits: Iterable[Limit]) -> tuple[Limit, ...]:
    """The limits that hold once each lifting has undone what was said before it. What may be used again stays
    in the list behind a wish for a pit stop: on some cars only the garage can do it (`gather` knows the
    car)."""
    standing: list[Limit] = []
    for limit in limits:
        if limit.kind == "lift":
            standing = [left for one in standing if (left := _lifted(one, limit.settings)) is not None]
        standing = [one for one in standing if one != limit and one.kind != _LIFTS.get(limit.kind)]
        on_a_stop = any(one.kind == "stop-only" for one in standing)
        if limit.kind not in _LIFTS and (limit.kind != "lift" or on_a_stop):
            standing.append(limit)
    return tuple(standing)


_LIFTS = {"lift-stop": "stop-only", "lift-count": "max-changes"}


def _lifted(limit: Limit, keys: tuple[str, ...]) -> Limit | None:
    """What is left of a limit once some settings may be used again (none named: all of them)."""
    if not keys:
        return None
    if limit.kind == "only":
        return replace(limit, settings=tuple(dict.fromkeys((*limit.settings, *keys))))
    left = tuple(key for key in limit.settings if key not in keys)
    return replace(limit, settings=left) if left or not limit.settings else None


def asked_for(reading: Reading, kinds: tuple[str, ...]) -> tuple[Request, ...]:
    """The requests of some kinds."""
    return tuple(r for r in reading.requests if r.kind in kinds)


def values_asked(requests: Iterable[Request], car: Car, setup: Setup) -> Mapping[str, float]:
    """Setting → value that set, step and what-if requests name. A direction without a number is one click.

    Several settings in one request move together. A change off the step ("25 up" with steps of 10) goes to
    the nearest value there is. ValueOutside when a value is outside the sheet, or a place is off its step."""
    found: dict[str, float] = {}
    for request in requests:
        for key in request.settings:
            setting = car.setting(key)
            now = found.get(key, setup[key])
            if request.value is None:
                click = setting.click_of(now) + (-1 if request.direction == "down" else 1)
                wanted = setting.value_at(max(0, min(setting.last, click)))
            else:
                sign = -1.0 if request.relative and request.direction == "down" and request.value > 0 else 1.0
                wanted = round(now + sign * request.value, 6) if request.relative else request.value
            found[key] = _nearest(setting, wanted) if request.relative else _exact(setting, wanted)
    return found


def steps_missed(requests: Iterable[Request], setup: Setup, asked: Mapping[str, float]) -> tuple[Fact, ...]:
    """What to say of changes that were off the step: the value asked for and the nearest there is."""
    found = []
    for request in requests:
        for key in request.settings if request.relative and request.value is not None else ():
            size = abs(asked[key] - setup[key])
            if abs(size - abs(request.value or 0.0)) > 1e-6:
                numbers = {"wanted": abs(request.value or 0.0), "size": size, "value": asked[key]}
                found.append(Fact("nearest-step", numbers, {"setting": key}))
    return tuple(found)


def _exact(setting: Setting, value: float) -> float:
    return setting.value_at(setting.click_of(value))


def _nearest(setting: Setting, value: float) -> float:
    """The value of the sheet nearest to one in its range (half a step goes up); ValueOutside beyond it."""
    if not setting.min <= value <= setting.max:
        raise ValueOutside(setting.key, value, setting.allowed())
    values = (setting.value_at(click) for click in range(setting.last, -1, -1))
    return min(values, key=lambda v: round(abs(v - value), 9))
