"""Rules of thumb: where they come from, how they join the model, where they hold."""

from pathlib import Path

import numpy as np
import pytest

from engine import rules as table
from engine.catalogue import KEYS
from engine.channels import BALANCE, CHANNELS
from engine.errors import SheetError, UnknownName
from engine.rules import DOUBT, effects, rules
from engine.sensitivity import MODEL_DOUBT, MODEL_FLOOR, combine, respond, slopes
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from engine.sources import sources, used

CAR, TRACK = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
AT = {s.key: i for i, s in enumerate(CAR.settings)}


def engine_texts() -> list[str]:
    """Every file of the engine and service that may name a source."""
    root = Path(__file__).parent.parent
    found = [*root.glob("engine/*"), *root.glob("service/*.py"), *root.glob("engine/tools/*")]
    return [f.read_text("utf-8") for f in found if f.suffix in (".py", ".toml") and f.stem != "sources"]


def test_every_rule_names_a_known_source_and_every_source_is_used() -> None:
    named = {key for rule in rules() for key in rule.sources}
    assert named <= set(sources())
    for key in set(sources()) - named:
        assert any(f'"{key}"' in text for text in engine_texts()), key
    assert all(s.title and s.where and s.mark for s in sources().values())


def test_a_published_mark_needs_a_published_source() -> None:
    """P, P> and P* need an id from the list; C may stand on common practice alone."""
    for rule in rules():
        if set(rule.mark) & {"P", "P>", "P*"}:
            assert any(key.startswith("S") for key in rule.sources), rule.name


def test_unknown_source_is_refused() -> None:
    with pytest.raises(UnknownName, match="S999"):
        used(["S1", "S999"])
    assert [s.key for s in used(["S4", "S1", "S4"])] == ["S4", "S1"]


@pytest.mark.parametrize(
    ("row", "key"),
    [
        ({"name": "x", "parts": {"wing": 1}, "sources": []}, "parts"),
        ({"name": "x", "parts": {"cross_weight": 1}, "sources": ["S999"]}, "sources"),
        ({"name": "x", "parts": {"cross_weight": 1}, "sources": [], "centre": [1.0, "Q"]}, "mark"),
        ({"name": "x", "parts": {"cross_weight": 1}, "sources": [], "middle": [1.0, "P"]}, "middle"),
    ],
)
def test_a_wrong_row_is_refused(row: dict[str, object], key: str) -> None:
    with pytest.raises(SheetError) as caught:
        table._rule(row)
    assert key in caught.value.key


def test_a_rule_is_scaled_to_the_click_of_the_sheet() -> None:
    """Half a point of cross is 0.5 feel in the centre by the row; this sheet's click is half a point."""
    got = effects(CAR, TRACK)
    assert got.step[AT["cross_weight"], 2] == pytest.approx(0.5)
    assert got.step[AT["spring_rr"], 2] == pytest.approx(-0.5 / 2)  # row: 20 lb/in, click: 10
    assert got.step[AT["camber_rf"], 2] == pytest.approx(0.2)  # row: 0.25 deg more negative is looser
    assert got.sd[AT["cross_weight"], 1] == pytest.approx(DOUBT["P"] * 0.45)


def test_model_and_rule_are_weighted_by_the_inverse_of_their_variances() -> None:
    """Mean = (m/vm + r/vr)/(1/vm + 1/vr), variance = 1/(1/vm + 1/vr): two independent normal statements."""
    _, slope = slopes(CAR, TRACK, CAR.base_setup())
    said = effects(CAR, TRACK)
    mean, sd = combine(slope, said)
    i, c = AT["spring_rr"], CHANNELS.index("balance/centre/half")
    vm = (MODEL_DOUBT * slope[i, c]) ** 2 + MODEL_FLOOR**2
    vr = said.sd[i, 2] ** 2

    assert mean[i, c] == pytest.approx((slope[i, c] / vm + said.step[i, 2] / vr) / (1 / vm + 1 / vr))
    assert sd[i, c] ** 2 == pytest.approx(1 / (1 / vm + 1 / vr))


def test_where_no_rule_speaks_the_model_stands_alone() -> None:
    _, slope = slopes(CAR, TRACK, CAR.base_setup())
    mean, _ = combine(slope, effects(CAR, TRACK))
    silent = [CHANNELS.index(c) for c in CHANNELS if c not in BALANCE]

    np.testing.assert_array_equal(mean[:, silent], slope[:, silent])
    np.testing.assert_array_equal(mean[AT["gear_4"]], slope[AT["gear_4"]])


def test_the_response_keeps_where_it_came_from() -> None:
    got = respond(CAR, TRACK, CAR.base_setup())
    keys = [m.key for m in got.moves]
    bar, gear = keys.index("track_bar_both"), keys.index("gear_4")
    c = CHANNELS.index("balance/centre/half")

    assert "S1" in got.sources[bar]
    assert got.sources[gear] == ()
    assert np.isfinite(got.rule[bar, c])
    assert np.isnan(got.rule[gear, c])
    assert np.isnan(got.rule[bar, CHANNELS.index("wear/RF")])
    assert (got.sd >= 0).all()


def test_a_pair_is_the_sum_of_its_parts() -> None:
    got = respond(CAR, TRACK, CAR.base_setup())
    row = {m.key: got.step[i] for i, m in enumerate(got.moves)}

    np.testing.assert_allclose(row["track_bar_both"], row["track_bar_left"] + row["track_bar_right"])
    np.testing.assert_allclose(row["rear_spring_split"], row["spring_rr"] - row["spring_lr"])


def test_left_turn_rules_are_silent_where_the_car_also_turns_right() -> None:
    road = effects(CAR, shipped_tracks()["fernbrook"])
    assert np.isnan(road.step[AT["cross_weight"]]).all()
    assert np.isnan(road.step[AT["spring_rr"]]).all()
    assert np.isfinite(road.step[AT["front_bar"]]).all()
    assert np.isfinite(road.step[AT["brake_bias"], 0])


def test_rows_cover_the_levers_of_the_trade() -> None:
    """Every setting the demo car has either has a row or does nothing to the balance by itself."""
    without = set(AT) - {key for rule in rules() for key in rule.parts}
    assert without <= {"gear_3", "gear_4", "steering_offset", "fuel"}
    assert set(AT) <= set(KEYS)
