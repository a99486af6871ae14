"""One setting against one number: final drive for top rpm, most tape for a water limit, stagger for a
turn."""

from collections.abc import Sequence
from dataclasses import dataclass

from engine.car import Car, Setting, Setup
from engine.channels import CHANNELS
from engine.model import channels, find_pace, rows_of
from engine.physics.stagger import for_radius
from engine.track import Track
from engine.units import to_si

__all__ = ["Choice", "gears", "stagger", "sweep", "tape"]


@dataclass(frozen=True, slots=True)
class Choice:
    """A setting chosen for a number: `value` of `setting` gives `reached` of `channel`; `wanted` is the
    number it was chosen
    for; `met` False when no value in the sheet's range does it (then `value` is the nearest)."""

    setting: str
    before: float
    value: float
    channel: str
    was: float
    wanted: float
    reached: float
    met: bool


def sweep(
    car: Car, track: Track, setup: Setup, key: str, wanted: Sequence[str]
) -> tuple[list[float], list[list[float]]]:
    """Every value the sheet allows for a setting, and the `wanted` channels at each."""
    setting = car.setting(key)
    values = [setting.value_at(click) for click in range(setting.last + 1)]
    rows = channels(car, track, rows_of(car, [{**setup, key: v} for v in values]), find_pace(car, track))
    at = [CHANNELS.index(c) for c in wanted]
    return values, [[float(row[i]) for i in at] for row in rows]


def _below(car: Car, track: Track, setup: Setup, key: str, channel: str, most: float) -> Choice:
    """The value whose channel comes nearest to `most` without passing it."""
    values, rows = sweep(car, track, setup, key, (channel,))
    reached = [row[0] for row in rows]
    inside = [i for i, got in enumerate(reached) if got <= most]
    best = (
        max(inside, key=lambda i: (reached[i], values[i]))
        if inside
        else min(range(len(values)), key=lambda i: reached[i])
    )
    was = reached[car.setting(key).click_of(setup[key])]
    return Choice(key, setup[key], values[best], channel, was, most, reached[best], bool(inside))


def gears(car: Car, track: Track, setup: Setup, rpm: float) -> Choice:
    """The final drive that turns the engine nearest to `rpm` at the end of the longest straight, not over
    it."""
    return _below(car, track, setup, "final_drive", "top-rpm", rpm)


def tape(car: Car, track: Track, setup: Setup, water: float) -> Choice:
    """The most grille tape that keeps the water at or below `water` (degF)."""
    return _below(car, track, setup, "grille_tape", "water-temperature", water)


def stagger(car: Car, track: Track) -> tuple[Setting, float, float]:
    """The stagger at which the rear tyres roll the track's turn freely: the setting, its nearest value, and
    the exact one (in).

    mean rollout x rear track / turn radius (handbook 2.9, arithmetic); the radius is that of the track's
    left-hand corners
    in the middle, weighted as in a lap."""
    setting = car.setting("stagger")
    left = [c for c in track.corners if c.turn == "left"] or list(track.corners)
    radius = sum(c.weight * c.radius[2] for c in left) / sum(c.weight for c in left)
    rollout = 2 * 3.141592653589793 * car.physics.tyre_radius
    exact = float(for_radius(radius, car.physics.track_rear, rollout)) / to_si(1.0, setting.unit)
    nearest = min(range(setting.last + 1), key=lambda click: abs(setting.value_at(click) - exact))
    return setting, setting.value_at(nearest), exact
