"""What was really done of a change list, from the driver's words. Pure.

With no word about it a report means all of it was done. Named changes that were not done leave the rest done;
named changes that were done say nothing of the rest, so that is asked. One question at a time, each answer a
whole sentence that can be said instead of the first.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from engine.car import Car
from engine.errors import ValueOutside
from grammar.deeds import settings_named
from grammar.intent import Choice, Limit, Outcome, Question, Reading, Span
from service.state import Given

__all__ = ["Done", "answered", "carried_out", "doubted", "named_in", "refusal"]

_BARE_BAR = re.compile(
    r"(?<!track )(?<!front )(?<!rear )(?<!sway )(?<!roll )(?<!back )\bbar\s*$", re.IGNORECASE
)
_WILL = re.compile(
    r"\b(?:won'?t|can'?t|cannot|could\s*n[o']?t|couldnt|not doing|don'?t want|refused|decided not|chose not)",
    re.IGNORECASE,
)
""" "Can't" and "won't" hold for the lists to come; "skipped it" and "no time" do not."""
_HALF = re.compile(r"\bhalf\b(?! an?\b)(?: of)? (?:it|that|the change|of it)|half ?way", re.IGNORECASE)
_UP = re.compile(r"\b(?:up|add|added|raised|stiffened|more)\b", re.IGNORECASE)
_COUNTED = re.compile(r"\b(?:rounds?|turns?|clicks?)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Done:
    """What became of a list: `how` as advised, partly or refused (nothing of it); `changes` the values the
    car now has; `refused` the settings that were not moved, `barred` those among them the driver will not
    move; `unclear` what must be asked first."""

    how: str
    changes: dict[str, float]
    refused: tuple[str, ...] = ()
    barred: tuple[str, ...] = ()
    unclear: Question | None = None
    between: tuple[tuple[str, float], ...] = ()
    """Settings whose value, as the driver gave it, lies between two steps: `changes` has the nearest one."""


@dataclass(slots=True)
class _Account:
    """The list while the words about it are gone through."""

    done: set[str]
    left: set[str]
    barred: set[str]
    moved: dict[str, float]
    rest: str | None = None
    between: dict[str, float] = field(default_factory=dict)


def carried_out(last: Given, reading: Reading, car: Car) -> Done:
    """What was really done of `last`; a question when the words leave it open."""
    told = _Account(set(), set(), set(), {})
    given = [o for o in reading.outcomes if o.verdict in ("done", "partly-done", "refused")]
    sized = any(o.verdict == "partly-done" and o.amount is not None for o in given)
    for group in _groups(given):
        if group[0].verdict == "partly-done" and group[0].amount is None and sized:
            continue  # the same words, heard a second time with the number
        asked = _take(group, last, reading, car, told)
        if asked is not None:
            return Done("partly", {}, unclear=asked)
    _unable(reading.limits, last, told)
    return _settled(last, reading, car, told)


def _settled(last: Given, reading: Reading, car: Car, told: _Account) -> Done:
    every = set(last.after)
    off = {key: value for key, value in told.moved.items() if key not in every}
    open_ = every - told.done - told.left - set(told.moved)
    instead = bool(off) and "instead" in reading.text.lower()
    if open_ and told.rest is None and not instead and (told.done or off):
        return Done("partly", {}, unclear=_of_the_rest(reading, open_, car))
    if told.rest == "refused" or instead:
        told.left |= open_
    changes = {**last.after, **{key: last.before[key] for key in told.left}, **told.moved}
    order = tuple(key for key in last.after if key in told.left)
    barred = tuple(key for key in order if key in told.barred)
    if told.left == every and not told.moved:
        return Done("refused", changes, order, barred)
    same = not told.left and all(changes[k] == last.after[k] for k in every) and not off
    between = tuple(told.between.items())
    return Done("as advised" if same else "partly", changes, order, barred, between=between)


def _groups(outcomes: Iterable[Outcome]) -> list[list[Outcome]]:
    """Outcomes of the same words together: "the springs" are four settings."""
    found: dict[tuple[str, Span, float | None], list[Outcome]] = {}
    for one in outcomes:
        found.setdefault((one.verdict, one.span, one.amount), []).append(one)
    return list(found.values())


def _take(
    group: Sequence[Outcome], last: Given, reading: Reading, car: Car, told: _Account
) -> Question | None:
    """Take one group into account; the question it leaves open."""
    first = group[0]
    will = bool(_WILL.search(first.span.text))
    if first.setting is None and first.verdict != "partly-done":
        told.rest = "refused" if "refused" in (told.rest, first.verdict) else "done"
        if first.verdict == "refused" and will:
            told.barred |= set(last.after)
        return None
    if first.amount is not None or first.verdict == "partly-done":
        return _measured(first, last, reading, car, told)
    keys, asked = _meant([o.setting for o in group if o.setting], first.span, last, reading, car)
    if asked is not None:
        return asked
    if first.verdict == "done":
        told.done |= set(keys)
    else:
        told.left |= set(keys)
        told.barred |= set(keys) if will else set()
    return None


def _meant(
    keys: Sequence[str], span: Span, last: Given, reading: Reading, car: Car
) -> tuple[list[str], Question | None]:
    """Settings of the list that were named; "the bar" is the bar of the list, and asked when it has two."""
    if _BARE_BAR.search(span.text):
        bars = [k for k in last.after if "bar" in k.split("_")]
        families = {_family(k) for k in bars}
        if len(families) > 1:
            return [], _which(reading, span.end - len("bar"), span.end, bars, car)
        if bars:
            return bars, None
    found = [k for k in last.after if k in keys]
    return (found, None) if found else ([], _off_the_list(last, reading, span, car))


def _measured(one: Outcome, last: Given, reading: Reading, car: Car, told: _Account) -> Question | None:
    """ "Only went half a point", "went up 25 on the right rear": the change with its own size."""
    if one.amount is None:
        key = one.setting if one.setting and one.setting in last.after else next(iter(last.after))
        if not _HALF.search(one.span.text) or (len(last.after) > 1 and key != one.setting):
            text = "How far did you go? Say it with the number, such as 'went half a point on the wedge'."
            return Question("amount", text, (), one.span)
        _put(car, key, (last.before[key] + last.after[key]) / 2, told)
        return None
    named = _named(one, last, reading, car)
    if isinstance(named, Question):
        return named
    for key in named:
        _put(car, key, _moved(one, key, last, car), told)
    return None


def _named(one: Outcome, last: Given, reading: Reading, car: Car) -> list[str] | Question:
    size = abs(one.amount or 0.0)
    listed = [k for k in last.after if one.setting is None or _family(k) == _family(one.setting)]
    exact = [k for k in listed if k == one.setting]
    if one.setting is not None and (exact or not listed):
        return (
            exact
            or ([one.setting] if one.verdict == "done" else list(last.after)[:0])
            or _off_the_list(last, reading, one.span, car)
        )
    fits = [
        k for k in listed if 0 < _size(one, k, last, car, size) <= abs(last.after[k] - last.before[k]) + 1e-9
    ]
    if len({_family(k) for k in fits}) == 1:
        return fits
    return _which(reading, one.span.end, one.span.end, fits or list(last.after), car, " on the ")


def _size(one: Outcome, key: str, last: Given, car: Car, amount: float) -> float:
    """The amount in the setting's unit; rounds and clicks count the setting's own steps where its unit is
    another."""
    setting = car.setting(key)
    if _COUNTED.search(one.span.text) and setting.step and amount and not _COUNTED.search(setting.unit):
        return float(setting.step * amount)
    return amount


def _moved(one: Outcome, key: str, last: Given, car: Car) -> float:
    now = last.before.get(key)
    base = now if now is not None else last.kept.get("now", {}).get(key, car.base_setup()[key])
    planned = -1.0 if last.after.get(key, base) < base else 1.0
    sign = -1.0 if (one.amount or 0.0) < 0 else 1.0 if _UP.search(one.span.text) else planned
    if one.verdict == "partly-done":
        sign = planned
    return base + sign * _size(one, key, last, car, abs(one.amount or 0.0))


def _put(car: Car, key: str, value: float, told: _Account) -> None:
    """Take a value of the driver's own: the nearest step of the setting. ValueOutside if off the sheet."""
    setting = car.setting(key)
    if not setting.min - 1e-9 <= value <= setting.max + 1e-9:
        raise ValueOutside(key, value, setting.allowed())
    steps = (setting.value_at(c) for c in range(setting.last, -1, -1))
    told.moved[key] = min(steps, key=lambda v: round(abs(v - value), 9))
    if abs(told.moved[key] - value) > 1e-6:
        told.between[key] = value


def _unable(limits: Iterable[Limit], last: Given, told: _Account) -> None:
    """ "Can't touch the springs": what is on the list and cannot be moved was not moved."""
    for limit in limits:
        if limit.kind == "not" and _WILL.search(limit.span.text):
            keys = {k for k in limit.settings if k in last.after} - told.done - set(told.moved)
            told.left |= keys
            told.barred |= keys


def _family(key: str) -> str:
    """`spring` of `spring_lr`, `track_bar` of `track_bar_left`."""
    head, _, tail = key.rpartition("_")
    return head if tail in ("lf", "rf", "lr", "rr", "left", "right") else key


def named_in(keys: Iterable[str], car: Car) -> str:
    """Labels of settings in a row."""
    return ", ".join(car.setting(key).label for key in keys)


def _spoken(key: str, car: Car) -> str:
    """Words for a setting that are read as it."""
    tries = (_family(key).replace("_", " "), car.setting(key).label.lower(), key.replace("_", " "))
    return next((words for words in tries if key in settings_named(words)), tries[1])


def _which(
    reading: Reading, start: int, end: int, keys: Sequence[str], car: Car, before: str = ""
) -> Question:
    """Which of several changes: each choice is the text with the setting's name in it."""
    names = list(dict.fromkeys(_spoken(key, car) for key in keys))
    text = reading.text
    choices = tuple(Choice(f"{text[:start]}{before}{name}{text[end:]}", name) for name in names)
    return Question("setting", f"Which change was that: {' or '.join(names)}?", choices, None)


def _of_the_rest(reading: Reading, keys: Iterable[str], car: Car) -> Question:
    names = named_in(sorted(keys), car)
    said = reading.text.rstrip(" .!?")
    choices = (Choice(f"{said}. We did the rest.", "yes"), Choice(f"{said}. Nothing else got done.", "no"))
    return Question("list", f"And {names}: was that done too?", choices, None)


def _off_the_list(last: Given, reading: Reading, span: Span, car: Car) -> Question:
    def said(words: str) -> str:
        return f"{reading.text[: span.start]}{words}{reading.text[span.end :]}"

    steps = ", ".join(f"{car.setting(k).label} {last.before[k]:g} to {last.after[k]:g}" for k in last.after)
    choices = (Choice(said("we did all of it"), "yes"), Choice(said("we did none of it"), "no"))
    return Question("list", f"That was not on the list. The list was: {steps}. Was it done?", choices, None)


_BARE = re.compile(r"(?:^|[.,;!?]\s*)(?:didn['’]?t|did not) change (?:anything|a thing)", re.IGNORECASE)


def doubted(reading: Reading) -> Question | None:
    """ "Didn't change anything" without a subject: the crew or the car?"""
    match = _BARE.search(reading.text)
    if match is None or not any(o.verdict == "no-change" for o in reading.outcomes):
        return None
    start, end = match.start(), match.end()
    start += len(match.group()) - len(match.group().lstrip(".,;!? "))
    text = reading.text
    choices = tuple(
        Choice(f"{text[:start]}{said}{text[end:]}", label)
        for said, label in (
            ("we didn't change anything", "the list was not done"),
            ("it made no difference", "it was done and made no difference"),
        )
    )
    return Question("list", "Was the list not done, or did it make no difference?", choices, None)


def refusal(settings: tuple[str, ...], text: str) -> Limit:
    """A standing limit for settings the driver would not touch."""
    return Limit("not", settings, None, Span(0, len(text), text))


def answered(choices: Iterable[Choice], reply: str) -> str | None:
    """The choice a reply means: its label, its own words, yes or no, or the settings it names."""
    said = " ".join(re.findall(r"[a-z0-9']+", reply.lower()))
    yes, no = said.split(" ")[0] in _YES, said.split(" ")[0] in _NO
    keys = set(settings_named(reply)) if reply.strip() else set()
    for choice in choices:
        mine = set(settings_named(choice.label))
        if reply == choice.answer or said == choice.label.lower():
            return choice.answer
        if (choice.label == "yes" and yes) or (choice.label == "no" and no) or (mine and mine & keys):
            return choice.answer
    return None


_YES = frozenset({"yes", "yeah", "yep", "yup", "sure", "both", "all", "aye"})
_NO = frozenset({"no", "nope", "nah", "none", "neither", "nothing"})
