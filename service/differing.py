"""How two answers to the same complaint differ, in words: the reading, the plan, the numbers."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

__all__ = ["Difference", "differences"]

NEAR = 0.02
"""Numbers closer than this (absolute, and as a share above 1) are the same: below what anybody feels or reads
off."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference. `part`: reading, plan or numbers; `where` a path in it; `was` and `now` as text."""

    part: str
    where: str
    was: str
    now: str

    def __str__(self) -> str:
        return f"{self.part}: {self.where}: was {self.was}, now {self.now}"


def differences(was: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[Difference, ...]:
    """What differs between two records of one complaint."""
    found = list(_walk("reading", "", was.get("reading"), now.get("reading")))
    before, after = was["plan"], now["plan"]
    if before["status"] != after["status"]:
        found.append(Difference("plan", "status", before["status"], after["status"]))
    if _moves(before) != _moves(after):
        found.append(Difference("plan", "changes", _moves(before) or "none", _moves(after) or "none"))
    found += _walk("numbers", "expected", before["expected"], after["expected"])
    return tuple(found)


def _moves(plan: Mapping[str, Any]) -> str:
    """The changes in one line, by setting: their order on the list is no difference."""
    return "; ".join(sorted(f"{c['setting']} {c['from']:g} to {c['to']:g}" for c in plan["changes"]))


def _walk(part: str, path: str, was: Any, now: Any) -> Iterator[Difference]:
    """Differences of two pieces of JSON, leaf by leaf."""
    if was == now:
        return
    if isinstance(was, dict) and isinstance(now, dict):
        for key in [*was, *(k for k in now if k not in was)]:
            yield from _walk(part, f"{path}.{key}" if path else str(key), was.get(key), now.get(key))
    elif isinstance(was, list) and isinstance(now, list) and len(was) == len(now):
        for index, (one, other) in enumerate(zip(was, now, strict=True)):
            yield from _walk(part, f"{path}[{index}]", one, other)
    elif not _same(was, now):
        yield Difference(part, path or "all", _text(was), _text(now))


def _same(was: Any, now: Any) -> bool:
    if all(isinstance(v, int | float) and not isinstance(v, bool) for v in (was, now)):
        return abs(float(was) - float(now)) <= NEAR * max(1.0, abs(float(was)))
    return bool(was == now)


def _text(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return f"{len(value)} of them: {_short(value)}" if value else "none"
    return "nothing" if value is None else _short(value)


def _short(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 160 else f"{text[:157]}..."
