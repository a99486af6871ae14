"""Settings that are moved because they were asked for, or because a rule of thumb says so where no
channel shows the complaint."""

from collections.abc import Mapping
from dataclasses import dataclass

from engine.car import Car, Setup
from engine.history import History
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
            if _open(key, sign, car, setup, wishes) and key not in values and sign not in barred.get(key, ()):
                setting = car.setting(key)
                values[key] = setting.value_at(setting.click_of(setup[key]) + sign)
                why[key] = Fact("thumb", names={"complaint": one.kind}, sources=(one.source,))
                break
        else:
            notes.append(Fact("no-thumb", names={"complaint": one.kind}))
    return Direct(values, why, tuple(notes))


def _open(key: str, sign: int, car: Car, setup: Setup, wishes: Wishes) -> bool:
    if key not in car.by_key or key in wishes.locked or (wishes.only is not None and key not in wishes.only):
        return False
    setting = car.setting(key)
    if wishes.stop_only and setting.where != "stop":
        return False
    return 0 <= setting.click_of(setup[key]) + sign <= setting.last
