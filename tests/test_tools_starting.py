"""A set-up from nothing: on the sheet, inside the car's limits, neutral to slightly tight over the whole run
with every demo car at every demo track."""

from functools import cache

import numpy as np
import pytest

from engine.channels import BALANCE, CHANNELS
from engine.laying import NOT_FOR_BALANCE
from engine.model import channels, find_pace, rows_of
from engine.response import Array
from engine.sheets import at_track, shipped_cars, shipped_tracks
from engine.style import RACE, Style
from engine.tools.aim import bands, over_limits
from engine.tools.starting import GOAL, aim_of, start

CARS, TRACKS = shipped_cars(), shipped_tracks()
PAIRS = [(car, track) for car in sorted(CARS) for track in sorted(TRACKS)]
FELT, HALF = len(BALANCE), slice(5, 10)


def beyond(rows: Array, goal: Array) -> Array:
    """How far the balance at half fuel [n, channels] is outside its bands, feel (root of the squares: one
    phase far off is worse than several a little)."""
    error = np.abs(rows[:, HALF] - goal[HALF])
    return np.asarray(np.sqrt((np.maximum(0.0, error - bands()[HALF]) ** 2).sum(axis=1)))


@pytest.mark.parametrize(("car_id", "track_id"), PAIRS)
def test_a_start_is_legal_and_in_its_bands_over_the_run(car_id: str, track_id: str) -> None:
    track = TRACKS[track_id]
    car = at_track(CARS[car_id], track)
    pace = find_pace(car, track)
    held = start(car, track)

    assert car.complete(held.setup) == held.setup
    now = channels(car, track, rows_of(car, [held.setup]), pace)
    assert over_limits(car, RACE, now)[0] == pytest.approx(0.0, abs=0.02)
    for hard in ("water-temperature", "top-rpm", "wear-gap/right"):
        assert over_limits(car, RACE, now)[0][CHANNELS.index(hard)] == 0.0
    error = now[0][:FELT] - held.goal
    off = {c: e for c, e, band in zip(BALANCE, error, bands(), strict=True) if abs(e) > band + 1e-6}
    assert dict(held.off) == pytest.approx(off, abs=1e-9)

    geared = {k: held.setup[k] for k in ("final_drive", "grille_tape") if k in held.setup}
    base = channels(car, track, rows_of(car, [car.base_setup() | geared]), pace)
    assert beyond(now, held.goal)[0] <= beyond(base, held.goal)[0] + 1e-9
    assert held.met, held.off

    steps = []
    for setting in car.settings:
        click = setting.click_of(held.setup[setting.key])
        if setting.key not in (*NOT_FOR_BALANCE, "grille_tape"):
            steps += [
                {**held.setup, setting.key: setting.value_at(c)}
                for c in (click - 1, click + 1)
                if 0 <= c <= setting.last
            ]
    rows = channels(car, track, rows_of(car, steps), pace)
    inside = over_limits(car, RACE, rows).sum(axis=1) < 1e-9
    assert beyond(rows[inside], held.goal).min() >= beyond(now, held.goal)[0] - 0.15


@cache
def half_of(style: Style, stage: int = 1) -> float:
    """Mean balance at a stage of the start for the premier car at the steep short oval."""
    track = TRACKS["stonecup"]
    if style.wear != "as-track":
        track = track.model_copy(update={"wear": style.wear})
    held = start(at_track(CARS["tern-premier"], track), track, style)
    return float(held.after[5 * stage : 5 * stage + 5].mean())


def test_a_harsher_track_starts_tighter_to_spare_the_right_rear() -> None:
    """Common practice, no source (handbook section 7). That a tighter car spares the right rear is the
    model's."""
    assert half_of(Style(wear="harsh")) > half_of(Style(wear="gentle")) + 0.05

    track = TRACKS["stonecup"]
    car = at_track(CARS["tern-premier"], track)
    base = car.base_setup()
    tighter = {**base, "cross_weight": base["cross_weight"] + 1.0}
    rows = channels(car, track, rows_of(car, [base, tighter]), find_pace(car, track))
    worn, felt = CHANNELS.index("wear/RR"), CHANNELS.index("balance/centre/half")
    assert rows[1][felt] > rows[0][felt]
    assert rows[1][worn] < rows[0][worn]


def test_safer_is_tighter_and_freer_is_looser() -> None:
    safer, plain, freer = (half_of(Style(balance=b)) for b in ("safer", "neutral", "freer"))

    assert safer > plain > freer


def test_qualifying_is_freer_than_a_race_run() -> None:
    """Common practice, no source (handbook section 7); held where it counts: fresh tyres against half
    fuel."""
    qualifying = Style(session="qualifying")
    assert aim_of(TRACKS["stonecup"], qualifying) < aim_of(TRACKS["stonecup"], RACE) == GOAL
    assert half_of(qualifying, stage=0) < half_of(RACE)
