"""Two set-ups compared: the own effects add up to the net, and a package reads as a package."""

import random

import numpy as np
import pytest

from engine.car import Setup
from engine.channels import BALANCE
from engine.model import find_pace
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from engine.tools.compare import compare
from engine.tools.effects import Effects

CAR, TRACK = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
FELT = slice(0, len(BALANCE))
PACE = find_pace(CAR, TRACK)


def shuffled(seed: int) -> Setup:
    """The base set-up with eight settings anywhere in their range."""
    dice = random.Random(seed)
    setup = CAR.base_setup()
    for setting in dice.sample(CAR.settings, 8):
        setup[setting.key] = setting.value_at(dice.randint(0, setting.last))
    return setup


@pytest.mark.parametrize("seed", range(50))
def test_own_effects_and_named_pairs_explain_the_net_balance(seed: int) -> None:
    """At least 95 % on 50 random pairs, and what is left is said. The net is taken from the model again, so
    that it is not the tool's own sum."""
    a, b = shuffled(seed), shuffled(seed + 1000)
    found = compare(CAR, TRACK, a, b, PACE)

    parts = [*(d.own for d in found.differences), *(t.beyond for t in found.together)]
    told = sum(parts, np.zeros_like(found.net))[FELT]
    effects = Effects(CAR, TRACK, a, PACE)
    net = effects.of([b])[0][FELT]
    missing = float(np.abs(net - told).sum() / np.abs(net).sum())
    assert missing <= 0.05
    assert found.explained == pytest.approx(1 - missing, abs=1e-9)
    assert np.allclose(found.left[FELT], net - told, atol=1e-9)


def test_named_pairs_carry_what_the_own_effects_miss() -> None:
    """Summed over ten random pairs of set-ups, naming pairs leaves less than the own effects alone."""
    with_pairs = without = 0.0
    for seed in range(100, 110):
        found = compare(CAR, TRACK, shuffled(seed), shuffled(seed + 1000), PACE)
        own = sum((d.own for d in found.differences), np.zeros_like(found.net))
        without += float(np.abs((found.net - own)[FELT]).sum())
        with_pairs += float(np.abs(found.left[FELT]).sum())
    assert with_pairs < 0.75 * without


def test_the_same_set_up_has_no_difference() -> None:
    found = compare(CAR, TRACK, CAR.base_setup(), CAR.base_setup())

    assert found.differences == () and found.payments == ()
    assert np.abs(found.net).max() < 1e-9


def test_the_same_settings_differ_the_other_way_round() -> None:
    there = compare(CAR, TRACK, shuffled(7), shuffled(8), PACE)
    back = compare(CAR, TRACK, shuffled(8), shuffled(7), PACE)

    clicks = {d.setting: d.clicks for d in there.differences}
    assert {d.setting: -d.clicks for d in back.differences} == clicks


def test_a_softer_bar_paid_for_with_nose_weight_reads_as_a_package() -> None:
    """Front bar softened, nose weight added: common practice, no source (handbook section 7)."""
    base = CAR.base_setup()
    bar, nose = CAR.setting("front_bar"), CAR.setting("nose_weight")
    softer = bar.value_at(bar.click_of(base["front_bar"]) - 1)
    heavier = nose.value_at(nose.click_of(base["nose_weight"]) + 2)

    found = compare(CAR, TRACK, base, {**base, "front_bar": softer, "nose_weight": heavier})
    middle = next(p for p in found.payments if p.group == "centre")
    assert {middle.lever, *(key for key, _ in middle.payers)} == {"front_bar", "nose_weight"}
    assert all(push * middle.push < 0 for _, push in middle.payers)
