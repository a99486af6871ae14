"""What is asked of the car, as types: needs, guards, tries. Amounts are changes from now, in the
channel's unit."""

from collections.abc import Mapping
from dataclasses import dataclass

HEAT, REST = -1, 3
"""Levels of needs that are not balance: an engine that boils is looked after first, all else last (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class Need:
    """A wanted change of the weighted sum of some channels. `kind` is a symptom's kind or a measurement's
    quantity."""

    key: str
    kind: str
    parts: tuple[tuple[str, float], ...]
    target: float
    level: int
    tolerance: float = 0.35
    floor: float = 0.25
    stage: str = "half"
    group: str = ""
    source: str = "common-practice"

    @property
    def unit_feel(self) -> bool:
        """True for balance."""
        return self.parts[0][0].startswith("balance/")


def level_of(channel: str) -> int:
    """The level of a need on a channel that is not balance."""
    return HEAT if channel == "water-temperature" else REST


@dataclass(frozen=True, slots=True)
class Guard:
    """A channel that may change only within low..high (low <= 0 <= high). `kind`: side, good, stage, harm
    (a complaint that may not get worse), or a limit of the car; `price` weighs the change against reach
    (cost per channel unit)."""

    key: str
    channel: str
    low: float
    high: float
    kind: str
    price: float
    bound: float = 0.0
    """For a limit of the car: the value it stands for."""


@dataclass(frozen=True, slots=True)
class Try:
    """A rule of thumb for a complaint no channel shows: settings and directions in order of reaching for
    them."""

    kind: str
    options: tuple[tuple[str, int], ...]
    source: str


@dataclass(frozen=True, slots=True)
class Needs:
    """All that is asked. `checks`: things to look at before adjusting. `uncovered`: kinds we have nothing
    for."""

    needs: tuple[Need, ...] = ()
    guards: tuple[Guard, ...] = ()
    tries: tuple[Try, ...] = ()
    checks: tuple[str, ...] = ()
    uncovered: tuple[str, ...] = ()
    felt: tuple[tuple[str, float], ...] = ()
    """Balance channel → what the driver says of it now, feel (complained channels only)."""


@dataclass(frozen=True, slots=True)
class Measured:
    """Numbers read off the car. `values` stand in for the model's channels; `needs` and `tries` follow
    from them; `told` is (kind, numbers, names) of what is worth saying."""

    values: Mapping[str, float]
    needs: tuple[Need, ...] = ()
    tries: tuple[Try, ...] = ()
    told: tuple[tuple[str, dict[str, float], dict[str, str]], ...] = ()


NOTHING = Measured({})
