"""Water too hot: tape off the grille first, as much as it takes, before the balance is looked at (pull strips
in the race S75, S76; before the balance: common practice, no source)."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from engine.car import Car, Limits, Setup
from engine.channels import CHANNELS
from engine.history import History
from engine.requests import Direct, is_open
from engine.response import Array
from engine.verdict import Fact
from engine.wanted import HEAT, Need, Needs
from engine.wishes import Wishes

__all__ = ["TAPE", "cooled", "heat_of", "left_to_plan", "water_doubt"]

TAPE = "grille_tape"
WATER = CHANNELS.index("water-temperature")
COLD = 15.0
"""How far inside the limit, degF, the model's water must be for the gauge to be doubted (judgement)."""
SOURCES = ("model", "S75", "S76")


def heat_of(needs: Needs) -> Need | None:
    """The need for cooler water, if there is one."""
    return next((need for need in needs.needs if need.level == HEAT), None)


def cooled(
    direct: Direct,
    needs: Needs,
    car: Car,
    setup: Setup,
    wishes: Wishes,
    history: History,
    model: Callable[[Sequence[Setup]], Array],
) -> Direct:
    """The direct changes with as little tape off as meets the need, or all of it where that is too little; as
    they are where the tape may not be touched."""
    need = heat_of(needs)
    if need is None or TAPE in direct.values or -1 in history.barred().get(TAPE, ()):
        return direct
    if not is_open(TAPE, -1, car, setup, wishes):
        gone = TAPE in car.by_key and setup[TAPE] <= car.setting(TAPE).min
        return replace(direct, notes=(*direct.notes, Fact("no-tape"))) if gone else direct
    tape = car.setting(TAPE)
    here = tape.click_of(setup[TAPE])
    values = [tape.value_at(click) for click in range(here, -1, -1)]
    water = model([{**setup, **direct.values, TAPE: value} for value in values])[:, WATER]
    falls = water[0] - water
    if falls[-1] <= 0.0:
        return direct
    least = -need.target * (1.0 - need.tolerance)
    enough = next((i for i, fall in enumerate(falls) if fall >= least), len(values) - 1)
    names = {"need": need.key, "kind": need.kind, "channel": CHANNELS[WATER]}
    why = {**direct.why, TAPE: Fact("cooled", {"wanted": need.target}, names, SOURCES)}
    all_off = (Fact("tape-all-off", {"got": -float(falls[-1])}),) if falls[-1] < least else ()
    notes = (*direct.notes, *all_off)
    return Direct({**direct.values, TAPE: values[enough]}, why, notes)


def left_to_plan(needs: Needs, direct: Direct) -> tuple[Need, ...]:
    """The needs that the tape does not see to."""
    tape = direct.why.get(TAPE)
    done = tape is not None and tape.kind == "cooled"
    return tuple(need for need in needs.needs if not (done and need.level == HEAT))


def water_doubt(needs: Needs, read_off: bool, now: float, limits: Limits) -> tuple[Fact, ...]:
    """What to look at where the driver calls it hot, gives no number, and the model has it well inside the
    limit."""
    limit = limits.water_temperature
    heat = heat_of(needs)
    if heat is None or heat.kind != "engine-hot" or read_off or limit is None or now > limit - COLD:
        return ()
    return (Fact("water-doubt", {"value": now, "limit": limit}),)
