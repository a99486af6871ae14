"""Braking and traction: force chain from tyre to pedal, ideal split, and what the axles can do. SI;

accelerations in g."""

import numpy as np

from engine.physics.arrays import Array, Num


def ideal_front_share(front_to_cg: Num, wheelbase: Num, height: Num, slowing_g: Num) -> Array:
    """Front brake share at which both axles use the same friction: (b + d h)/l. Reference: RCVD pp.

    750-752, via notes."""
    return np.asarray((wheelbase - front_to_cg + slowing_g * np.asarray(height)) / wheelbase)


def axle_loads(
    weight: Num, front_to_cg: Num, wheelbase: Num, height: Num, slowing_g: Num
) -> tuple[Array, Array]:
    """Front and rear load while slowing. Reference: Gillespie ch. 3, eqs for Wf, Wr."""
    front = weight * ideal_front_share(front_to_cg, wheelbase, height, slowing_g)
    return np.asarray(front), np.asarray(weight - front)


def friction_used(force: Num, load: Num) -> Array:
    """Friction an axle needs: brake force over load."""
    return np.asarray(force / np.asarray(load))


def efficiency(slowing_g: Num, used_front: Num, used_rear: Num) -> Array:
    """Braking efficiency: deceleration over the friction of the harder-worked axle. Reference: Gillespie ch.

    3."""
    return np.asarray(slowing_g / np.maximum(used_front, used_rear))


def most_front_driven(grip: Num, cg_to_rear: Num, wheelbase: Num, height: Num) -> Array:
    """Best acceleration, g, front axle driving: mu b/(l + mu h). Reference: Jazar (2008) eq. 2.116."""
    return np.asarray(grip * np.asarray(cg_to_rear) / (wheelbase + grip * np.asarray(height)))


def most_rear_driven(grip: Num, front_to_cg: Num, wheelbase: Num, height: Num) -> Array:
    """Best acceleration, g, rear axle driving: mu a/(l - mu h). Reference: Jazar (2008) eq. 2.117."""
    return np.asarray(grip * np.asarray(front_to_cg) / (wheelbase - grip * np.asarray(height)))


def most_front_braked(grip: Num, cg_to_rear: Num, wheelbase: Num, height: Num) -> Array:
    """Best deceleration, g, front axle braking alone: mu b/(l - mu h) (load moves onto it)."""
    return np.asarray(grip * np.asarray(cg_to_rear) / (wheelbase - grip * np.asarray(height)))


def force_from_pressure(pressure: Num, gain: Num, radius: Num) -> Array:
    """Brake force of an axle: 2 G p/r, gain = torque per line pressure of one brake. Reference:
    Gillespie ch. 3."""
    return np.asarray(2 * gain * pressure / np.asarray(radius))


def clamp_force(
    brake_force: Num, rolling_radius: Num, disc_radius: Num, pad_grip: Num
) -> tuple[Array, Array, Array]:
    """Torque, friction force at the disc and clamp force for a brake force at the tyre.

    torque = F r, disc = torque/r_disc, clamp = disc/mu. Reference: RCVD pp. 752-753, via chapter notes."""
    torque = np.asarray(brake_force * np.asarray(rolling_radius))
    disc = torque / disc_radius
    return torque, np.asarray(disc), np.asarray(disc / pad_grip)


def line_pressure(clamp: Num, piston_area: Num) -> Array:
    """Line pressure: clamp over the caliper's piston area."""
    return np.asarray(clamp / np.asarray(piston_area))


def pedal_force(pressure: Num, master_area: Num, pedal_ratio: Num) -> Array:
    """Foot force: p A_m / ratio. Reference: RCVD p. 753, via chapter notes."""
    return np.asarray(pressure * np.asarray(master_area) / pedal_ratio)
