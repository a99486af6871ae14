"""What a reading asks for: sizes, signs, stages, groups, bands, and numbers read off the car."""

import tomllib
from pathlib import Path

import pytest

from engine.car import Limits
from engine.catalogue import catalogue
from engine.channels import CHANNELS, balance
from engine.guarding import ALONE, GOOD, SIDE
from engine.measured import weigh
from engine.needs import complaints, find_needs
from engine.style import Style
from engine.wanted import NOTHING, Needs
from grammar.intent import TYRES
from grammar.reader import read
from service.words import COMPLAINT

ROOT = Path(__file__).parent.parent

BASE = dict.fromkeys(CHANNELS, 0.0) | {"water-temperature": 215.0, "top-rpm": 8300.0}
LIMITS = Limits(water_temperature=245.0, top_rpm=8600.0)


def needs(text: str, style: Style | None = None) -> Needs:
    """The needs of a phrase on a car in the middle of all its windows."""
    return find_needs(read(text), BASE, LIMITS, NOTHING, style or Style())


@pytest.mark.parametrize(
    ("text", "target"),
    [
        ("tight off", -1.0),
        ("loose off", 1.0),
        ("a little tight off", -0.5),
        ("really loose off", 2.0),
    ],
)
def test_severity_and_direction_make_the_target(text: str, target: float) -> None:
    """Slight 0.5, plain 1, severe 2 feel, against the complaint (design figure; common practice, no
    source)."""
    assert [n.target for n in needs(text).needs] == [target]


def test_entry_and_exit_are_held_on_the_mean_of_their_halves() -> None:
    (need,) = needs("loose in at half fuel").needs
    assert need.parts == ((balance("entry-braking", "half"), 0.5), (balance("entry-rolling", "half"), 0.5))


def test_a_named_half_is_held_alone() -> None:
    (need,) = needs("loose on the brakes").needs
    assert need.parts == ((balance("entry-braking", "half"), 1.0),)


def test_no_stage_means_half_fuel_and_fresh_tyres_when_qualifying() -> None:
    assert needs("tight off").needs[0].stage == "half"
    assert needs("tight off", Style(session="qualifying")).needs[0].stage == "start"


def test_everywhere_is_one_need() -> None:
    (need,) = needs("a little tight everywhere").needs
    assert len(need.parts) == 5
    assert sum(weight for _, weight in need.parts) == pytest.approx(1.0)


def test_the_earliest_phase_comes_first() -> None:
    assert [n.group for n in needs("tight off, loose in").needs] == ["entry", "exit"]


def test_phases_not_complained_of_keep_the_side_band() -> None:
    guards = {g.channel: g for g in needs("loose in at half fuel").guards}
    assert (guards[balance("centre", "half")].low, guards[balance("centre", "half")].high) == (-SIDE, SIDE)


def test_a_phase_called_good_keeps_a_tight_band() -> None:
    guards = {g.channel: g for g in needs("loose in but good in the middle").guards}
    assert guards[balance("centre", "half")].high == GOOD


def test_a_complaint_that_is_not_balance_lets_balance_move_by_less_than_a_plain_complaint() -> None:
    guards = {g.channel: g for g in needs("running hot").guards}
    assert guards[balance("centre", "half")].high == pytest.approx(ALONE)


def test_limits_are_room_from_here() -> None:
    guards = {g.channel: g for g in needs("tight off").guards}
    assert guards["water-temperature"].high == pytest.approx(30.0)
    assert guards["top-rpm"].high == pytest.approx(300.0)


def test_a_car_outside_a_limit_may_not_get_worse() -> None:
    hot = {**BASE, "water-temperature": 260.0}
    found = find_needs(read("tight off"), hot, LIMITS, NOTHING)
    guard = next(g for g in found.guards if g.channel == "water-temperature")
    assert 0.0 <= guard.high <= 2.0


def test_cured_denied_and_feared_complaints_ask_for_nothing() -> None:
    assert needs("it's not loose any more").needs == ()


def test_safer_leans_to_tight() -> None:
    """A safer car is a tighter one: common practice, no source."""
    assert needs("tight off", Style(balance="safer")).needs[0].target == pytest.approx(-0.75)


@pytest.mark.parametrize(
    ("text", "channel", "sign"),
    [
        ("RF wear 14% RR wear 6%", "balance/entry-braking/half", -1),
        ("RF wear 8% RR wear 14%", "balance/entry-braking/half", 1),
        ("water temp 250", "water-temperature", -1),
    ],
)
def test_measurements_become_needs(text: str, channel: str, sign: int) -> None:
    """A right-side gap beyond 2-4 %: the tyre worn more is at the end that slides, so a worn right front
    asks for a freer car (common practice, no source; tight heats the RF: S63); a limit of the sheet."""
    measured = weigh(read(text).measurements, BASE, LIMITS, dict)
    assert [(n.parts[0][0], n.target * sign > 0) for n in measured.needs] == [(channel, True)]


def test_measurements_inside_the_limits_ask_for_nothing() -> None:
    for text in ("RF wear 9% RR wear 7%", "water temp 230"):
        assert weigh(read(text).measurements, BASE, LIMITS, dict).needs == ()


@pytest.mark.parametrize(
    ("text", "option"),
    [
        ("RF temps 200 225 205", ("pressure_rf", -1)),
        ("RF temps 215 190 210", ("pressure_rf", 1)),
        ("RF temps 180 190 200", ("camber_rf", -1)),
    ],
)
def test_a_pyrometer_pattern_asks_for_air_or_camber(text: str, option: tuple[str, int]) -> None:
    """Hot middle: too much air; cool middle: too little; hot outer edge: not enough lean (S52, S56)."""
    measured = weigh(read(text).measurements, BASE, LIMITS, dict)
    assert [t.options for t in measured.tries] == [(option,)]


def test_the_table_names_only_channels_and_settings_there_are() -> None:
    for kind, row in complaints().items():
        if "channel" in row:
            assert row["channel"].format(tyre="RF", stage="half") in CHANNELS, kind
        for key, sign in row.get("try", ()):
            assert key.format(tyre="rf") in catalogue(), kind
            assert sign in (1, -1), kind
        assert {"channel", "try", "check"} & set(row), kind


def test_no_bite_coming_off_is_wheelspin_and_no_grip_anywhere_is_looked_at() -> None:
    """Softer RR = more bite off (S11): drive is a matter of the exit's balance, no grip at both ends is
    not."""
    assert [n.kind for n in needs("need a little more bite off").needs] == ["wheelspin"]
    assert needs("no grip anywhere").checks == ("grip",)


def test_every_complaint_the_grammar_knows_is_in_the_table() -> None:
    table = tomllib.loads((ROOT / "grammar/vocabulary/symptoms.toml").read_text("utf-8"))
    kinds = {row["means"] for row in table["row"]}
    assert kinds <= set(complaints())
    assert kinds <= set(COMPLAINT)


def test_a_locking_tyre_names_its_end() -> None:
    """Front wheels lock: less front bias; rear wheels: more (S7)."""
    assert [n.kind for n in needs("LF is locking up into three").needs] == ["front-lock"]


@pytest.mark.parametrize(("gap", "size"), [(4, 0.0), (5, 0.5), (8, 1.0)])
def test_the_wear_gap_asks_for_a_slight_or_a_plain_change(gap: int, size: float) -> None:
    """Common practice, no source: 2 to 4 % counts as even."""
    measured = weigh(read(f"RF wear {10 + gap}% RR wear 10%").measurements, BASE, LIMITS, dict)
    assert [-n.target for n in measured.needs] == ([size] if size else [])


def test_what_the_driver_feels_comes_before_what_the_wear_says() -> None:
    text = "loose in, RF wear 22% RR wear 14%"
    measured = weigh(read(text).measurements, BASE, LIMITS, dict)
    found = find_needs(read(text), BASE, LIMITS, measured)
    assert [(n.key, n.target > 0) for n in found.needs] == [("entry/half", True)]


def test_a_handful_in_traffic_is_the_air_and_not_the_dampers() -> None:
    """The air of the other cars is no set-up fault: common practice, no source."""
    found = needs("it is a handful in traffic")
    assert (found.tries, found.needs, found.checks) == ((), (), ("traffic", "traffic-way"))
    assert needs("tight in the middle in traffic").checks == ("traffic",)


@pytest.mark.parametrize(("value", "wanted"), [(40.5, []), (42.5, [-2.5]), (31.0, [2.0]), (51.0, [-2.0])])
def test_a_hot_pressure_far_off_is_put_right_two_psi_at_a_time(value: float, wanted: list[float]) -> None:
    """2 psi when correcting a pattern: S52; what counts as far is common practice, no source."""
    measured = weigh(
        read(f"RF hot pressure {value} psi").measurements, BASE, LIMITS, lambda: dict.fromkeys(TYRES, 40.0)
    )
    assert [n.target for n in measured.needs] == pytest.approx(wanted)


def test_water_over_its_limit_is_brought_under_it() -> None:
    """The least that counts as a cure reaches the limit of the sheet (A)."""
    (need,) = weigh(read("water temp 265").measurements, BASE, LIMITS, dict).needs
    assert 265.0 + need.target * (1 - need.tolerance) <= 245.0 + 1e-9


@pytest.mark.parametrize(
    ("text", "target", "check"),
    [
        ("right rear wears too much", 0.5, "worn-RR"),
        ("I burned the right rear off", 0.5, "worn-RR"),
        ("right front wears too much", -0.5, "worn-RF"),
    ],
)
def test_a_worn_right_side_tyre_is_the_end_that_slides(text: str, target: float, check: str) -> None:
    """Too tight works the right front, too loose the right rear (common practice, no source)."""
    found = needs(text)
    assert [(n.group, n.target) for n in found.needs] == [("everywhere", target)]
    assert check in found.checks


def test_a_balance_named_beside_a_worn_tyre_leads() -> None:
    assert [n.group for n in needs("right rear wears too much and it's tight in").needs] == ["entry"]
