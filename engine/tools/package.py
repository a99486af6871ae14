"""Run this setting at that value: the fewest other changes that keep the balance."""

from collections.abc import Mapping

from engine.car import Car, Setup
from engine.channels import BALANCE
from engine.errors import ValueOutside
from engine.model import channels, find_pace, rows_of
from engine.style import RACE, Style
from engine.tools.holding import Held, hold
from engine.track import Track

__all__ = ["package"]


def package(
    car: Car,
    track: Track,
    setup: Setup,
    fixed: Mapping[str, float],
    locked: frozenset[str] = frozenset(),
    style: Style = RACE,
) -> Held:
    """`fixed` settings at their values, and what pays for them. ValueOutside when a value is not on the
    sheet."""
    if not fixed:
        raise ValueOutside("fix", "nothing", "at least one SETTING=VALUE")
    start = dict(setup)
    for key, value in fixed.items():
        setting = car.setting(key)
        start[key] = setting.value_at(setting.click_of(value))
    goal = channels(car, track, rows_of(car, [setup]), find_pace(car, track))[0][: len(BALANCE)]
    return hold(car, track, start, goal, frozenset(fixed) | locked, style)
