"""The engine's exceptions.

EngineError
├── SheetError          a car, track or set-up file is wrong: file, key, value, allowed
├── UnknownName         no such car, track, setting or channel: kind, name, known
└── ValueOutside        a set-up value outside the sheet: setting, value, low, high, unit
"""

from collections.abc import Iterable
from difflib import get_close_matches


class EngineError(Exception):
    """Base of everything the engine raises on purpose. `str()` is a sentence for people; attributes hold the
    facts."""


class SheetError(EngineError):
    """A sheet is wrong. `file` and `key` say where, `value` what was there, `allowed` what may stand
    there."""

    def __init__(self, file: str, key: str, value: object, allowed: str) -> None:
        self.file, self.key, self.value, self.allowed = file, key, value, allowed
        super().__init__(f"{file}: {key} is {value!r}, allowed: {allowed}")


class UnknownName(EngineError):
    """No such thing. `kind` is car, track, setting, choice or channel."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind, self.name, self.known = kind, name, tuple(known)
        near = get_close_matches(name, self.known, n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        super().__init__(f"no {kind} called {name!r}; there are: {', '.join(self.known)}{hint}")


class ValueOutside(EngineError):
    """A value outside the sheet's range or off its step. `allowed` is the range in words."""

    def __init__(self, setting: str, value: object, allowed: str) -> None:
        self.setting, self.value, self.allowed = setting, value, allowed
        super().__init__(f"{setting} = {value} is outside the sheet: allowed {allowed}")
