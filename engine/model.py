"""The chassis model: (car, track, set-ups) → channels. Pure functions; SI inside; one call takes any
number of set-ups.

The pace (speed per phase) is solved for the car's base set-up at the track, so that the harder-worked
axle uses `LIMIT` of its grip in every phase, and is then held: balance is what the driver feels at the
same pace."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine import model_grip as grip
from engine import model_loads as loads
from engine import model_run as run
from engine.car import Car, Setup
from engine.channels import CHANNELS, OTHER, WEAR
from engine.model_bends import Bend, bend_of, bends_of
from engine.model_values import INDEX, Array, Values, base_of, side_by_side, values_of
from engine.physics.springs import Pair
from engine.physics.turns import in_plane
from engine.track import Corner, Track
from engine.units import UNITS, G, from_si
from engine.vehicle import Physics

STAGES_LEFT = np.array([1.0, 0.5, 0.05]).reshape(1, 3, 1)
"""Share of the fuel still in the tank at each stage."""
WARM = np.array([0.7, 1.0, 1.0]).reshape(1, 1, 3, 1)
"""Share of the tyres' running temperature rise at each stage."""
TRIED = np.arctan(np.linspace(0.35, 2.3, 32)).reshape(-1, 1, 1)
"""Friction angles tried when solving the pace."""
STEEPEST = np.arctan(6.0)


@dataclass(frozen=True, slots=True)
class Pace:
    """Acceleration towards the middle of each kind of corner (corners, 3, 5), g, held while set-ups are
    compared."""

    pull: Array


@dataclass(frozen=True, slots=True)
class State:
    """One kind of corner. Tyres and fronts stand as the model drove them: mirrored in a right-hand corner."""

    corner: Corner
    motion: loads.Motion
    weights: loads.Weights
    loads: loads.Loads
    use: grip.Use
    worn: Array  # (4, n, 1, 1) share at the end of the run
    hot: Array  # (4, n, 3, 1) Pa
    lean: Array  # (2, n, 3, 5) rad, into the turn

    @property
    def balance(self) -> Array:
        """Share of grip the front uses over the rear's, (n, 3, 5), + = tighter."""
        return np.asarray(self.use.axle[0] - self.use.axle[1])

    def own(self, tyres: Array) -> Array:
        """Tyre (or front) axis as the driver sees it."""
        if self.corner.turn == "left":
            return tyres
        return tyres[[1, 0, 3, 2]] if len(tyres) == 4 else tyres[::-1]


def find_pace(car: Car, track: Track) -> Pace:
    """The pace of the base set-up: tried on a row of friction angles, then linear between the two that
    enclose LIMIT."""
    base, n = base_of(car), len(TRIED) if len(track.corners) > 1 else 1
    banking = np.array([corner.banking for corner in track.corners])[:, None, None]
    pull = np.tan(np.minimum(banking + TRIED, STEEPEST)) + np.zeros((1, 1, 3, 5))
    whole = _together(car, track, Values(np.repeat(base.rows, n, axis=1)), base, pull, at_limit=True)
    used = whole.use.axle.max(axis=0).reshape(pull.shape)
    return Pace(np.stack([_crossing(own, most) for own, most in zip(pull, used, strict=True)]))


def channels(car: Car, track: Track, setups: Array, pace: Pace | None = None) -> Array:
    """Channels (n, channels) of `setups` (n, settings; sheet units and order); columns as
    `engine.channels.CHANNELS`."""
    return look(car, track, setups, pace or find_pace(car, track))[0]


def look(car: Car, track: Track, setups: Array, pace: Pace) -> tuple[Array, list[State]]:
    """`channels`, and the kinds of corner behind them; each state holds two set-ups more (the base with half
    a point of cross more and less, which say what one feel is)."""
    base = base_of(car)
    v = Values(np.concatenate([values_of(car, setups).rows, _crossed(base)], axis=1))
    states = simulate_all(car, track, v, base, pace)
    share = _mean(track, [s.balance for s in states])
    point = _mean(track, [np.abs(s.balance[-2, 1, 2] - s.balance[-1, 1, 2]) for s in states])
    feel = max(float(point), 1e-4)
    felt = (share[:-2] + np.array(car.physics.trim)).reshape(-1, 15) / feel
    return np.concatenate([felt, _outcomes(car, track, v, base, states)[:-2]], axis=1), states


def predict(car: Car, track: Track, setup: Setup, pace: Pace | None = None) -> dict[str, float]:
    """Channel → value for one set-up."""
    row = channels(car, track, rows_of(car, [setup]), pace)[0]
    return dict(zip(CHANNELS, map(float, row), strict=True))


def simulate(
    car: Car, track: Track, corner: Corner, v: Values, base: Values, pull: Array, at_limit: bool = False
) -> State:
    """The car in one kind of corner at a given pace. `pull` broadcasts against (n, 3, 5)."""
    right = [corner.turn == "right"]
    turned = side_by_side(v, right), side_by_side(base, right)
    return _simulate(car, track, corner, bend_of(corner), *turned, pull, at_limit)


def simulate_all(car: Car, track: Track, v: Values, base: Values, pace: Pace) -> list[State]:
    """The car in every kind of corner at the pace."""
    if len(track.corners) == 1:
        return [simulate(car, track, track.corners[0], v, base, pace.pull[0])]
    n = v.rows.shape[1]
    whole = _together(car, track, v, base, np.repeat(pace.pull[:, None], n, axis=1))
    return [_part(whole, corner, n * k, n * (k + 1)) for k, corner in enumerate(track.corners)]


def _together(car: Car, track: Track, v: Values, base: Values, pull: Array, at_limit: bool = False) -> State:
    """The car in all kinds of corner in one go, `pull` (corners, n, 3, 5); they stand side by side, as the
    set-ups of one call do."""
    n, right = v.rows.shape[1], [corner.turn == "right" for corner in track.corners]
    beside = side_by_side(base, right) if any(right) else base
    if len(beside.rows[0]) > 1:
        each = beside.mirrored if isinstance(beside.mirrored, bool) else np.repeat(beside.mirrored, n, axis=0)
        beside = Values(np.repeat(beside.rows, n, axis=1), each)
    bend, side = bends_of(track.corners, n), side_by_side(v, right)
    return _simulate(car, track, track.corners[0], bend, side, beside, pull.reshape(-1, 3, 5), at_limit)


def _simulate(
    car: Car,
    track: Track,
    corner: Corner,
    bend: Bend,
    v: Values,
    base: Values,
    pull: Array,
    at_limit: bool = False,
) -> State:
    """The car in one or several kinds of corner; `v` and `base` as the model drives them."""
    p = car.physics
    speed = np.sqrt(pull * G * bend.radius)
    down, drag = run.air_forces(p, v, base, speed)
    push = grip.forward(p, bend, drag)
    motion = loads.Motion(*in_plane(pull, bend.banking), push, speed, speed / bend.radius, bend.twist)
    weights = loads.weigh(p, v, base, STAGES_LEFT)
    load = loads.tyre_loads(p, v, base, weights, motion, down)
    hot = grip.hot_pressure(p, v, track.air, WARM)
    lean = grip.lean(p, v, load.roll, p.wheelbase / bend.radius)
    peak = grip.peaks(p, v, load, hot, lean, track.grip)
    force = grip.along(p, v, base, weights, bend, load.tyre, 1 - STAGES_LEFT)
    need = grip.demand(p, weights, motion, force)
    half = (need[:, :, 1], peak[:, :, 1], force[:, :, 1])
    worn = run.wear(p, v, track, half[1], None if at_limit else grip.share(*half), lean)
    faded = peak * (1 - p.wear_grip * worn * (1 - STAGES_LEFT))
    used = grip.Use(grip.share(need, faded, force), faded, force)
    return State(corner, motion, weights, load, used, worn, hot, lean)


def _part(whole: State, corner: Corner, begin: int, end: int) -> State:
    """The rows of one kind of corner out of several."""
    here = slice(begin, end)
    m, w = whole.motion, whole.weights
    own = (part[here] for part in (m.lateral, m.normal, m.forward, m.speed, m.turning, m.twist))
    first, second = (
        Pair(pair.heave[:, here], pair.couple[:, here], pair.roll[:, here]) for pair in w.support
    )
    weights = loads.Weights(w.corner[:, here], w.mass[here], w.axle[:, here], w.left[here], (first, second))
    load = loads.Loads(whole.loads.tyre[:, here], whole.loads.roll[here])
    use = grip.Use(*(part[:, here] for part in (whole.use.axle, whole.use.peak, whole.use.along)))
    tyres = (part[:, here] for part in (whole.worn, whole.hot, whole.lean))
    return State(corner, loads.Motion(*own), weights, load, use, *tyres)


def rows_of(car: Car, setups: Sequence[Setup]) -> Array:
    """Set-ups as an array (n, settings)."""
    return np.array([[setup[s.key] for s in car.settings] for setup in setups])


def _crossed(base: Values) -> Array:
    """The base with half a point of cross-weight more and less: their difference in the centre is 1 feel."""
    rows = np.repeat(base.rows, 2, axis=1)
    rows[INDEX["cross_weight"], :, 0, 0] += (0.005, -0.005)
    return rows


def _crossing(pull: Array, used: Array) -> Array:
    """Where `used` first passes LIMIT along the first axis; the last point tried if it never does."""
    above = used >= run.LIMIT
    at = np.where(above.any(axis=0), above.argmax(axis=0), len(pull) - 1)
    at = np.maximum(at, 1)[None]
    x0, x1 = (np.take_along_axis(pull, at - k, 0)[0] for k in (1, 0))
    y0, y1 = (np.take_along_axis(used, at - k, 0)[0] for k in (1, 0))
    part = np.clip((run.LIMIT - y0) / np.where(np.abs(y1 - y0) < 1e-12, 1.0, y1 - y0), 0.0, 1.0)
    return np.asarray(x0 + part * (x1 - x0))


def _mean(track: Track, parts: Sequence[Array]) -> Array:
    """Mean over the kinds of corner by their weight."""
    if len(parts) == 1:
        return parts[0]
    weights = [c.weight for c in track.corners]
    return np.asarray(sum(w * part for w, part in zip(weights, parts, strict=True)) / sum(weights))


def _outcomes(car: Car, track: Track, v: Values, base: Values, states: Sequence[State]) -> Array:
    """The channels that are not balance (n, 17) in `WEAR + OTHER` order and units."""
    p = car.physics
    worn = 100 * _mean(track, [s.own(s.worn)[:, :, 0, 0] for s in states])
    window = _mean(track, [s.own(run.pressure_window(p, s.hot, s.loads.tyre)) for s in states])
    start = max(float(s.motion.speed[..., 4].max()) for s in states)
    speed, rpm, water = run.straight(p, v, base, track, start)
    lock = 100 * run.lockup(p, v, base, states[0].weights, track)
    made = np.empty((worn.shape[1], len(WEAR + OTHER)))
    made[:, 0:4] = worn.T
    made[:, 4], made[:, 5] = worn[1] - worn[3], worn[0] - worn[2]
    made[:, 6], made[:, 7], made[:, 8] = water * 1.8 - 459.67, rpm, from_si(1.0, "mph") * speed
    made[:, 9:11] = lock.T
    made[:, 11:15] = window.T / UNITS["psi"].factor
    leans = [s.own(s.lean[:, :, 2, 2]) for s in states]
    made[:, 15], made[:, 16] = (np.degrees(_camber_window(p, states, leans, tyre)) for tyre in (0, 1))
    return made


def _camber_window(p: Physics, states: Sequence[State], leans: Sequence[Array], tyre: int) -> Array:
    """Camber of a front tyre (0 left, 1 right) over its best in the centre late in the run, (n,), rad: where
    it is the outside tyre, or where it is inside if it never is. Camber is + with the top outward, so an
    inside tyre leans into the turn with more of it and an outside tyre with less. `leans`: (2, n) in each."""
    outside = [i for i, s in enumerate(states) if (s.corner.turn == "right") == (tyre == 0)]
    chosen = outside or range(len(states))
    weight = np.array([states[i].corner.weight for i in chosen])
    over = weight @ np.array([leans[i][tyre] for i in chosen]) / weight.sum() - p.camber_best
    return np.asarray(-over if outside else over)
