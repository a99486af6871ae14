"""Remembering what a pure function of read-only sheets gave: the same answer sooner, never another one."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
from typing import Any, Generic, TypeVar
from weakref import WeakSet

V = TypeVar("V")

__all__ = ["Memo", "forget_all", "forget_plans"]


class Memo(Generic[V]):
    """The values of the last `size` different calls, least recently used out first; safe between threads.

    A call is known by the very objects it was made with (`sheets`: kept alive with the value, so that no
    other object can take their place) and by what else it depends on (`rest`). `plans`: the values belong to
    one question, not to a car at a set-up."""

    def __init__(self, size: int, plans: bool = False) -> None:
        self.size, self.plans = size, plans
        self._kept: OrderedDict[Hashable, tuple[tuple[object, ...], V]] = OrderedDict()
        self._lock = Lock()
        _ALL.add(self)

    def get(self, sheets: tuple[object, ...], rest: Hashable, make: Callable[[], V]) -> V:
        """The value for these, made if it is not known."""
        key = (*map(id, sheets), rest)
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
                return found[1]
        made = make()
        with self._lock:
            self._kept[key] = (sheets, made)
            if len(self._kept) > self.size:
                self._kept.popitem(last=False)
        return made

    def forget(self) -> None:
        """Empty it."""
        with self._lock:
            self._kept.clear()

    def __len__(self) -> int:
        return len(self._kept)


_ALL: WeakSet[Memo[Any]] = WeakSet()


def forget_all() -> None:
    """Empty every memo: the next answer is made from nothing, as the first one after the start."""
    for memo in list(_ALL):
        memo.forget()


def forget_plans() -> None:
    """Empty the memos of what was asked; what is known of cars at their set-ups stays."""
    for memo in list(_ALL):
        if memo.plans:
            memo.forget()
