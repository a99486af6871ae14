"""A four-wheel car from outside: the multi-body model of commonroad-vehicle-models 3.0.2 (BSD-3), held in a
steady turn.

The state is solved for, not simulated: every rate of change is zero at a constant speed and steer. Positive
steer turns so that the left side is the outside. Loads LF RF LR RR in N. Only the `mb` model is used; the
package's own tests fail on `std`."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray
from vehiclemodels.init_mb import init_mb
from vehiclemodels.vehicle_dynamics_mb import vehicle_dynamics_mb
from vehiclemodels.vehicle_parameters import setup_vehicle_parameters

Array = NDArray[np.float64]
GRAVITY = 9.81
"""As the package has it."""
FREE = [5, 6, 8, 10, 11, 13, 15, 16, 18, 20, 21, 23, 24, 25, 26, 27, 28]
"""Indices of the unknown states:

yaw rate, roll, pitch, side speeds, heights, axle rolls, wheel spins, joints."""
STILL = [3, 5, 7, 9, 10, 12, 14, 15, 17, 19, 20, 22, 23, 24, 25, 26, 27, 28]
"""Indices of the rates that must vanish."""
NAMES = {1: "Ford Escort", 2: "BMW 320i", 3: "VW Vanagon"}


@dataclass(frozen=True)
class Turn:
    """A solved steady state:

    acceleration across in g, loads, roll in deg (+ = leaning out), largest rate left over."""

    lateral_g: float
    load: Array
    roll: float
    residual: float

    @property
    def moved(self) -> Array:
        """Load moved to the outside, front and rear, N: half the left minus right difference."""
        return np.array([self.load[0] - self.load[1], self.load[2] - self.load[3]]) / 2

    @property
    def front_share(self) -> float:
        """Front share of the transfer."""
        return float(self.moved[0] / self.moved.sum())


def vehicle(number: int, **changes: float) -> Any:
    """Parameters of a shipped car, some replaced; `stiff` scales springs, bars and tyres."""
    p = setup_vehicle_parameters(vehicle_id=number)
    stiff = changes.pop("stiff", 1.0)
    for name in ("K_sf", "K_sr", "K_tsf", "K_tsr", "K_zt"):
        setattr(p, name, getattr(p, name) * stiff)
    known = {f.name for f in fields(p)}
    for name, value in changes.items():
        assert name in known, name
        setattr(p, name, value)
    return p


def plain(number: int, **changes: float) -> Any:
    """A car without contact-patch shift and camber, which an analytic load transfer leaves out too.

    The tyre's jumps with the sign of its camber go as well: they move side force, not load, and trip the
    solver."""
    p = vehicle(number, **{"K_lt": 0.0, "D_f": 0.0, "D_r": 0.0, **changes})
    p.tire.p_hy1 = p.tire.p_hy3 = p.tire.p_vy1 = p.tire.p_vy3 = 0.0
    return p


def steady_turn(p: Any, speed: float, steer: float, forward: float = 0.0) -> Turn:
    """The car at a constant steer, speed held, or growing at `forward` m/s2 when steer is 0.

    Damped Newton from the rolling car; `residual` must be looked at, since it may stop short."""
    state = np.array(init_mb([0.0, 0.0, steer, speed, 0.0, speed * steer / (p.a + p.b), 0.0], p))

    def rates(unknown: Array) -> Array:
        full = state.copy()
        full[FREE] = unknown[:-1]
        made = np.array(vehicle_dynamics_mb(full, [0.0, unknown[-1]], p))[STILL]
        made[0] -= forward
        if forward:
            made[-6:-2] -= forward / p.R_w
        return made

    state[6] = -0.1 * steer
    x = np.append(state[FREE], 0.01 + forward)
    for _ in range(30):
        left = rates(x)
        if np.abs(left).max() < 1e-10:
            break
        inverse = np.linalg.inv(_slopes(rates, x))
        step = inverse @ left
        part = 1.0
        while part > 1e-3 and not np.linalg.norm(inverse @ rates(x - part * step)) < np.linalg.norm(step):
            part /= 2
        x = x - part * step
    full = state.copy()
    full[FREE] = x[:-1]
    return Turn(
        speed * full[5] / GRAVITY,
        loads_of(full, p),
        float(np.degrees(-full[6])),
        float(np.abs(rates(x)).max()),
    )


def _slopes(rates: Callable[[Array], Array], x: Array) -> Array:
    """Jacobian by central differences."""
    step = 1e-6 * np.maximum(np.abs(x), 1e-2)
    return np.stack([(rates(x + h) - rates(x - h)) / (2 * h.sum()) for h in np.diag(step)], axis=1)


def loads_of(x: Array, p: Any) -> Array:
    """Vertical loads from the tyres' deflections, as in the package's `vehicle_dynamics_mb`."""
    made = []
    for height, roll, track in ((x[16], x[13], p.T_f), (x[21], x[18], p.T_r)):
        drop = height + p.R_w * (np.cos(roll) - 1)
        made += [drop - 0.5 * track * np.sin(roll), drop + 0.5 * track * np.sin(roll)]
    return np.array(made) * float(p.K_zt)
