"""Two set-ups compared: the own effects add up to the net, and a package reads as a package."""

import random

import numpy as np
import pytest

from engine.car import Setup
from engine.channels import BALANCE
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from engine.tools.compare import compare

CAR, TRACK = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
FELT = slice(0, len(BALANCE))


def shuffled(seed: int) -> Setup:
    """The base set-up with eight settings anywhere in their range."""
    dice = random.Random(seed)
    setup = CAR.base_setup()
    for setting in dice.sample(CAR.settings, 8):
        setup[setting.key] = setting.value_at(dice.randint(0, setting.last))
    return setup


@pytest.mark.parametrize("seed", range(50))
def test_the_own_effects_explain_the_net_balance(seed: int) -> None:
    """Issue's own bar: at least 95 % on 50 random pairs, and what is left is said."""
    found = compare(CAR, TRACK, shuffled(seed), shuffled(seed + 1000))

    own = sum((d.own for d in found.differences), np.zeros_like(found.net))
    assert np.allclose(own + found.left, found.net, atol=1e-9)
    named = {(t.first, t.second) for t in found.together}
    assert all(first != second for first, second in named)
    assert found.explained >= 0.95


def test_the_same_set_up_has_no_difference() -> None:
    found = compare(CAR, TRACK, CAR.base_setup(), CAR.base_setup())

    assert found.differences == () and found.payments == ()
    assert np.abs(found.net).max() < 1e-9


def test_the_net_is_the_opposite_the_other_way_round() -> None:
    a, b = shuffled(7), shuffled(8)

    there, back = compare(CAR, TRACK, a, b), compare(CAR, TRACK, b, a)
    assert {d.setting for d in there.differences} == {d.setting for d in back.differences}
    assert np.abs(there.net + back.net)[FELT].max() <= 0.25 * np.abs(there.net)[FELT].max() + 0.05


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
