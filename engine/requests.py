"""Settings that are moved because they were asked for, or because a rule of thumb says so where no
channel shows the complaint."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.car import Car, Setup
from engine.channels import CHANNELS
from engine.full import FullModel
from engine.history import History
from engine.response import Array, Response
from engine.verdict import Fact
from engine.wanted import Try
from engine.wishes import Wishes


@dataclass(frozen=True, slots=True)
class Direct:
    """Changes made before planning: setting → new value, and why (a fact per setting). `notes`: tries
    that came to nothing."""

    values: Mapping[str, float]
    why: Mapping[str, Fact]
    notes: tuple[Fact, ...] = ()

    @property
    def moves(self) -> int:
        """How many changes these are: settings of one kind that go the same way by the driver's word are
        one."""
        asked = {key.rsplit("_", 1)[0] for key, fact in self.why.items() if fact.kind == "asked"}
        return len(asked) + sum(fact.kind != "asked" for fact in self.why.values())


def carry_out(
    asked: Mapping[str, float],
    tries: tuple[Try, ...],
    car: Car,
    setup: Setup,
    wishes: Wishes,
    history: History,
) -> Direct:
    """The direct changes: what was asked, then for each try its first option that this car, its range and
    the driver allow."""
    values = {key: value for key, value in asked.items() if value != setup[key]}
    why = {key: Fact("asked") for key in values}
    notes = [Fact("already", {"value": v}, {"setting": k}) for k, v in asked.items() if v == setup[k]]
    barred = history.barred()
    for one in tries:
        for key, sign in one.options:
            if (
                is_open(key, sign, car, setup, wishes)
                and key not in values
                and sign not in barred.get(key, ())
            ):
                values[key] = _stepped(key, sign, car, setup)
                why[key] = Fact("thumb", names={"complaint": one.kind}, sources=(one.source,))
                break
        else:
            notes.append(Fact("no-thumb", names={"complaint": one.kind}))
    return Direct(values, why, tuple(notes))


def _stepped(key: str, sign: int, car: Car, setup: Setup) -> float:
    """The value a usual step away: half of a round, a click at the least (a pound of air for a trial, a
    valving number: common practice, no source)."""
    setting = car.setting(key)
    most = next((move.cap for move in car.moves if move.parts == {key: 1}), 1)
    click = setting.click_of(setup[key]) + sign * max(1, most // 2)
    return setting.value_at(max(0, min(setting.last, click)))


def shift_of(
    car: Car, response: Response, before: Setup, after: Setup, direct: Direct, model: FullModel
) -> Array:
    """What the direct changes do to every channel: the full model's change, and what the rules of thumb and
    this car's own answers add to the model for each click of them."""
    if not direct.values:
        return np.zeros(len(CHANNELS))
    both = model([before, after])
    shift: Array = both[1] - both[0]
    for key in direct.values:
        clicks, row = clicks_of(car, key, before, after), response.rows[key]
        shift = shift + clicks * (response.step[row] - response.model[row])
    return shift


def clicks_of(car: Car, key: str, before: Setup, after: Setup) -> int:
    """How many clicks a setting has moved."""
    setting = car.setting(key)
    return setting.click_of(after[key]) - setting.click_of(before[key])


def is_open(key: str, sign: int, car: Car, setup: Setup, wishes: Wishes) -> bool:
    """True when this car has the setting, its range has room that way and the driver allows it."""
    if key not in car.by_key or key in wishes.locked or (wishes.only is not None and key not in wishes.only):
        return False
    setting = car.setting(key)
    if wishes.stop_only and setting.where != "stop":
        return False
    return 0 <= setting.click_of(setup[key]) + sign <= setting.last
