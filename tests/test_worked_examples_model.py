"""Published examples put through the shipped chassis model itself, not through its formulas one by one.

Sources and statuses as in the other test_worked_examples files."""

import numpy as np
import pytest
from assembled import FULL, loads_in, moved, physics_with, values_with

from engine.model_grip import hot_pressure, stagger_force, use
from engine.model_loads import Motion, ends, weigh
from engine.model_run import lockup, straight
from engine.sheets import DEFAULT_TRACK, shipped_tracks
from engine.units import G, to_si

RIGID = 1e18
LB, FT, IN, LBF = to_si(1, "lb"), to_si(1, "ft"), to_si(1, "in"), to_si(1, "lbf")


def test_a1_seen_static_corners() -> None:
    """A1 seen, groundcontrolstore.com: sides of 1364 and 1191 lb, front share 0.509, diagonals 1279 and 1276
    lb: LF 694, RF 606, LR 670, RR 585 lb on the scales of the model."""
    shares = {"nose_weight": 0.509, "left_weight": 1364 / 2555, "cross_weight": 1276 / 2555}
    p, v = physics_with(mass=2555 * LB), values_with(shares)

    scales = weigh(p, v, v, FULL).corner[:, 0, 0, 0] / LBF

    assert scales == pytest.approx([694, 606, 670, 585], abs=0.6)


def test_l3_fixture_fuel_burn() -> None:
    """L3 constructed by moments: 2800 lb, 50 %, 108 in;

    110 lb burnt 36 in behind the rear axle leave a nose of 53.41 %."""
    p = physics_with(mass=2800 * LB, wheelbase=108 * IN, fuel_behind_axle=36 * IN)
    v = values_with({"nose_weight": 0.5, "fuel": 110 * LB / p.fuel_density})

    empty = weigh(p, v, v, 0 * FULL)

    assert empty.mass / LB == pytest.approx(2690)
    assert empty.axle[0] == pytest.approx(0.5341, abs=5e-5)


def test_c2_seen_axle_totals() -> None:
    """C2 seen, Barton & Fieldhouse p. 174: at 0.6 g 1919 N move in front and 1649 N behind, gravity term
    included. Both unsprung masses stand at one height in the model, so it is set for each axle's moment in
    turn; the page rounds."""
    made = []
    for axle, height in ((0, 0.28), (1, 0.30)):
        p = physics_with(
            mass=1600 * 9.81 / G,
            track_front=1.46,
            track_rear=1.46,
            spring_base_rear=1.46,
            cg_height=(1280 * (0.365 + 0.54 * 0.07 + 0.46 * 0.32) + 320 * height) / 1600,
            unsprung_front=140 * 9.81 / G,
            unsprung_rear=180 * 9.81 / G,
            unsprung_height=height,
            roll_centre_front=0.07,
            motion_ratio_front=1.0,
            motion_ratio_rear=1.0,
            tyre_rate=RIGID,
        )
        front, rear = (28650 * share / (1.46**2 / 2) for share in (0.7005, 0.2995))
        springs = {"spring_lf": front, "spring_rf": front, "spring_lr": rear, "spring_rr": rear}
        share = (1280 * 0.54 + 140) / 1600
        centre = {"track_bar_left": 0.32, "track_bar_right": 0.32, "front_bar": 0.0}
        scales = {"nose_weight": share, "left_weight": 0.5, "cross_weight": 0.5}
        made.append(moved(loads_in(p, values_with({**springs, **centre, **scales}), 0.6))[axle])

    assert made[0] == pytest.approx(1919, rel=0.003)
    assert made[1] == pytest.approx(1649, rel=0.001)


def test_c3_in_stock_car_on_a_bank() -> None:
    """C3 in (fixture), RCVD notes ch. 18: 3400 lb on 10 deg at 0.9233 g across, 1.1782 g down: FO 1698.8, FI
    704.8, RO 1246.0, RI 356.4 lb. The source has no gravity term, so the springs stand 10 000 times stiffer
    in their ratio."""
    p = physics_with(
        mass=3400 * LB,
        wheelbase=9.5 * FT,
        track_front=5 * FT,
        track_rear=5 * FT,
        spring_base_rear=5 * FT,
        cg_height=1.5 * FT,
        unsprung_front=0.0,
        unsprung_rear=0.0,
        roll_centre_front=0.25 * FT,
        motion_ratio_front=1.0,
        motion_ratio_rear=1.0,
        tyre_rate=RIGID,
    )
    springs = {"spring_lf": 1222e7, "spring_rf": 1222e7, "spring_lr": 873e7, "spring_rr": 873e7}
    centre = {"track_bar_left": 0.625 * FT, "track_bar_right": 0.625 * FT, "front_bar": 0.0}
    scales = {"nose_weight": 0.6, "left_weight": 0.5, "cross_weight": 0.5}

    load = loads_in(p, values_with({**springs, **centre, **scales}), 0.9233, 4006.0 / 3400)

    assert load / LBF == pytest.approx([704.8, 1698.8, 356.4, 1246.0], abs=0.15)


def test_d4_in_uneven_springs() -> None:
    """D4 in (fixture), formulas RCVD pp. 589-592:

    300 and 500 lb/in on 5 ft give 56 250 lb-ft/rad free to heave."""
    p = physics_with(track_front=5 * FT, motion_ratio_front=1.0, tyre_rate=RIGID)
    rate = to_si(1, "lb/in")
    v = values_with({"spring_lf": 300 * rate, "spring_rf": 500 * rate, "front_bar": 0.0})

    whole, _ = ends(p, v)

    assert whole.roll_free()[0] / (LBF * FT) == pytest.approx(56250, rel=1e-6)


def test_e5_identity_grip_left_beside_drive() -> None:
    """E5 identity (RCVD notes ch. 2 sec. 5): with 0.6 of the grip used along, 0.8 is left across. The model
    rounds the ellipse's end off, which may cost 0.4 % here."""
    p, v = physics_with(), values_with({"nose_weight": 0.5})
    one = np.ones((1, 1, 5))
    motion = Motion(one, one, 0 * one, 20 * one, 0 * one, np.zeros(5))
    peak = np.full((4, 1, 1, 5), 5000.0)

    used = use(p, weigh(p, v, v, FULL), motion, peak, 0.6 * peak).axle

    assert used == pytest.approx(np.full((2, 1, 1, 5), p.mass * G / 2 / (2 * 4000.0)), rel=0.004)


def test_b8_mem_braking_grip() -> None:
    """B8 from memory, Gillespie ch. 3 ex. 2: brakes of 330 and 231 lb slow 4074 lb at 0.138 g; front and
    rear use friction of 0.143 and 0.131. On tyres of friction 1 that is what the lock-up margins must have
    lost."""
    p = physics_with(
        mass=4074 * LB,
        wheelbase=108.5 * IN,
        cg_height=20.5 * IN,
        brake_hardest=561.5 / 4074,
        engine_braking=(0.0,) * 5,
        grip=1.0,
        grip_rear=1.0,
        load_limit=RIGID,
    )
    v = values_with({"nose_weight": 2210 / 4074, "brake_bias": 330.3 / 561.5})
    track = shipped_tracks()[DEFAULT_TRACK].model_copy(update={"grip": 1.0})

    left = lockup(p, v, v, weigh(p, v, v, FULL), track)

    assert 1 - left[:, 0] == pytest.approx([0.143, 0.131], abs=6e-4)


def test_i2_seen_revs_at_speed() -> None:
    """I2 seen, calchorsepower.com: 70 mph, 3.55, 26 in tyre: 3211 rpm (its constant 336 is rounded)."""
    p, v = physics_with(tyre_radius=13 * IN), values_with({"gear_4": 1.0, "final_drive": 3.55})

    speed, rpm, _ = straight(p, v, v, shipped_tracks()[DEFAULT_TRACK], 30.0)

    assert rpm / speed * to_si(70, "mph") == pytest.approx([3211], abs=2)


def test_j5_bad_gauge_pressure_is_not_scaled() -> None:
    """J5 BAD, hlsn.net: 30 psi cold at 11 C is 36.8 psi at 54 C, not the page's 34.5 (gauge pressure
    scaled)."""
    p, v = physics_with(heat=(43.0,) * 4), values_with({"pressure_rf": 30 * to_si(1, "psi")})

    hot = hot_pressure(p, v, 284.0, np.ones((1, 1, 1, 1)))[1, 0, 0, 0] / to_si(1, "psi")

    assert hot == pytest.approx(36.8, abs=0.05)
    assert abs(hot - 34.5) > 2


@pytest.mark.parametrize(("radius", "sign"), [(1139.2, 0), (800.0, -1), (1600.0, 1)])
def test_k1_seen_free_axle(radius: float, sign: int) -> None:
    """K1 seen, westernracing.com/TURNRADIUS: diameters 27.91 and 29.38 in on 60 in roll freely at 1139.2 in
    to the inner tyre: no drive force apart there; in a tighter turn the outside tyre drags, in a wider one
    it drives."""
    p = physics_with(tyre_radius=(27.91 + 29.38) / 4 * IN, track_rear=60 * IN)
    v = values_with({"stagger": np.pi * (29.38 - 27.91) * IN})

    apart = stagger_force(p, v, v, np.full((4, 1, 1, 1), 5000.0), np.array((radius + 30) * IN), np.zeros(1))

    assert np.sign(np.round(apart, 0)) == sign
