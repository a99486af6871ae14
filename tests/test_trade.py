"""What the trade would reach for: the lever that brings most of the cure is one the handbook names for
the complaint.

Source ids (S..) are those of `engine/sources.toml`; rows without one are common practice, no source, and
say so.
"""

import pytest

from engine.adviser import advise
from engine.car import Limits
from engine.channels import CHANNELS
from engine.guarding import HARM, SPARE
from engine.needs import find_needs
from engine.sheets import at_track, shipped_cars, shipped_tracks
from engine.task import NEAR
from engine.thinning import EARNED, WORTH
from engine.verdict import PlanView, Verdict
from engine.wanted import NOTHING
from grammar.reader import read

UP, DOWN = 1, -1
Lever = tuple[str, int]
CROSS_IN, CROSS_OUT = ("cross_weight", UP), ("cross_weight", DOWN)
TRADE: dict[str, tuple[set[Lever], str]] = {
    "loose in": (
        {
            ("track_bar_left", DOWN),
            ("track_bar_right", DOWN),
            ("brake_bias", UP),
            ("spring_rf", UP),
            ("compression_rf", UP),
            ("rebound_lr", DOWN),
            ("front_bar", UP),
            CROSS_IN,
        },
        "bias S7, S67; track bar lower S1; RF spring or compression S10, S18; LR rebound S17; bar S26",
    ),
    "tight off": (
        {
            ("track_bar_right", UP),
            ("track_bar_left", UP),
            ("spring_rr", UP),
            ("spring_lr", DOWN),
            ("pressure_rr", UP),
            ("pressure_lr", DOWN),
            ("stagger", UP),
            CROSS_OUT,
        },
        "track bar S1, S36; RR spring S11, S25; rear split S24; stagger S63; cross S32",
    ),
    "a little tight everywhere": (
        {CROSS_OUT},
        "cross S30, S32; half a point at a time: common practice, no source",
    ),
    "loose everywhere": (
        {
            CROSS_IN,
            ("front_bar", UP),
            ("track_bar_left", DOWN),
            ("track_bar_right", DOWN),
            ("spring_rr", DOWN),
        },
        "cross S29, S30; bar S26; track bar S1; RR spring S1, S24",
    ),
    "tight in the middle": (
        {
            CROSS_OUT,
            ("track_bar_left", UP),
            ("track_bar_right", UP),
            ("spring_rr", UP),
            ("spring_lr", DOWN),
            ("spring_rf", DOWN),
            ("front_bar", DOWN),
            ("nose_weight", DOWN),
            ("camber_rf", DOWN),
            ("pressure_rr", UP),
        },
        "springs, track bar, cross: S2, S3, S9; RF spring S10; split S24; bar S43; camber S53, S56",
    ),
    "loose on the brakes": ({("brake_bias", UP)}, "S7, S67, S68"),
    "loose off": (
        {
            CROSS_IN,
            ("track_bar_right", DOWN),
            ("track_bar_left", DOWN),
            ("spring_rr", DOWN),
            ("spring_lr", UP),
            ("pressure_rr", DOWN),
            ("pressure_lr", UP),
            ("compression_lr", UP),
            ("compression_rr", DOWN),
            ("stagger", DOWN),
        },
        "LR jack S32; RR spring S11, S25; split S24; LR and RR compression S4, S13; stagger S63; RR air S50",
    ),
}


def answer(phrase: str, car: str = "tern-premier", track: str = "stonecup") -> Verdict:
    """The verdict on a phrase for a car's base set-up."""
    place = shipped_tracks()[track]
    sheet = at_track(shipped_cars()[car], place)
    return advise(read(phrase), sheet, place, sheet.base_setup())


def strongest(plan: PlanView) -> set[Lever]:
    """The settings, with direction, of the move that brings most of the first need."""
    shares = {c.move: f.numbers["got"] for c in plan.changes for f in c.reasons if f.kind == "cure"}
    best = max(shares, key=lambda move: abs(shares[move]))
    return {(c.setting, UP if c.clicks > 0 else DOWN) for c in plan.changes if c.move == best}


@pytest.mark.parametrize("phrase", TRADE)
def test_the_strongest_lever_is_one_the_trade_names(phrase: str) -> None:
    levers, source = TRADE[phrase]
    found = answer(phrase)
    assert found.status == "change"
    assert found.plan is not None
    assert strongest(found.plan) & levers, source


def test_a_little_tight_everywhere_is_half_a_point_of_cross_and_nothing_else() -> None:
    """S30, S32 for the lever; half a point at a time is common practice, no source."""
    plan = answer("a little tight everywhere").plan
    assert plan is not None
    assert [(c.setting, round(c.after - c.before, 3)) for c in plan.changes] == [("cross_weight", -0.5)]


def test_loose_on_the_brakes_is_the_bias_and_at_most_a_trim() -> None:
    """S7: wind rear brake in until it steps out, then back; S68."""
    plan = answer("loose on the brakes").plan
    assert plan is not None
    assert ("brake_bias", UP) in {(c.setting, UP if c.clicks > 0 else DOWN) for c in plan.changes}
    assert len(plan.moves) <= 2


def test_opposite_complaints_never_get_the_same_change() -> None:
    """A lever has one sign (handbook, section 6)."""
    for place in ("in", "in the middle", "off", "everywhere"):
        loose, tight = answer(f"loose {place}").plan, answer(f"tight {place}").plan
        assert loose is not None
        assert tight is not None
        assert strongest(loose).isdisjoint(strongest(tight)), place


def test_one_change_for_loose_in_is_bias_or_the_track_bar() -> None:
    """Bias S7, S67; left end of the track bar for entry: common practice, no source."""
    plan = answer("loose in, only one change").plan
    assert plan is not None
    assert len(plan.moves) == 1
    assert strongest(plan) <= {("brake_bias", UP), ("track_bar_left", DOWN), ("track_bar_right", DOWN)}


@pytest.mark.parametrize("phrase", TRADE)
def test_lead_dampers_and_left_front_air_wait_for_the_rest(phrase: str) -> None:
    """Basic set-up before dampers: S47, S48; lead and left-front air late: common practice, no source."""
    plan = answer(phrase).plan
    assert plan is not None
    last = ("compression", "rebound", "left_weight", "nose_weight", "pressure_lf")
    assert not [c.setting for c in plan.changes if c.setting.startswith(last)]


@pytest.mark.parametrize(
    ("phrase", "way"), [("RF wear 22% RR wear 14%", DOWN), ("RF wear 12% RR wear 17%", UP)]
)
def test_a_wear_gap_is_answered_with_cross(phrase: str, way: int) -> None:
    """The tyre worn more is at the end that slides: common practice, no source; cross tightens: S30, S32."""
    found = answer(phrase)
    assert found.status == "change"
    assert found.plan is not None
    assert strongest(found.plan) == {("cross_weight", way)}


TOLD = (
    ("tern-premier", "stonecup", "snaps loose when I pick up the gas"),
    ("tern-challenge", "millpond", "snaps loose when I pick up the gas"),
    ("tern-premier", "stonecup", "loose in, tight off, only what we can do on a stop"),
    ("tern-premier", "stonecup", "tight in the middle"),
    ("tern-club", "millpond", "free in the middle"),
    ("tern-club", "longmeadow", "really tight getting in"),
    ("tern-premier", "longmeadow", "loose in, loose off"),
    ("tern-challenge", "millpond", "loose in, tight in the middle, loose off"),
    ("tern-premier", "stonecup", "tight in the centre, loose off, two changes at most"),
    ("tern-challenge", "stonecup", "tight in, tight off"),
    ("tern-club", "stonecup", "very loose off at the end of a run, pit stop only"),
    ("tern-challenge", "fernbrook", "tight in the middle"),
)


@pytest.mark.parametrize(("car", "track", "phrase"), TOLD)
def test_no_complaint_is_left_worse_and_no_new_one_is_made(car: str, track: str, phrase: str) -> None:
    """Nobody trades one fault for another (common practice, no source); the slack is the model's own."""
    plan = answer(phrase, car, track).plan
    assert plan is not None
    for cure in plan.cures:
        assert cure.got / cure.wanted * abs(cure.wanted) >= -HARM - 2 * NEAR, cure
    stages = {cure.channel.rsplit("/", 1)[1] for cure in plan.cures}
    complained = {c for need in read_needs(phrase) for c in need}
    for effect in plan.expected:
        here = effect.channel.startswith("balance/") and effect.channel.rsplit("/", 1)[1] in stages
        if here and effect.channel not in complained:
            assert abs(effect.delta) <= SPARE + 2 * NEAR, effect


def read_needs(phrase: str) -> list[set[str]]:
    """The channels each complaint of a phrase is about."""
    none = dict.fromkeys(CHANNELS, 0.0)
    found = find_needs(read(phrase), none, Limits(), NOTHING)
    return [{channel for channel, _ in need.parts} for need in found.needs]


@pytest.mark.parametrize(("car", "track", "phrase"), TOLD)
def test_every_change_is_worth_its_work(car: str, track: str, phrase: str) -> None:
    """Each move brings a tenth of the largest want, or says what would leave its place without it."""
    plan = answer(phrase, car, track).plan
    assert plan is not None
    for change in plan.changes:
        kinds = {fact.kind for fact in change.reasons}
        assert kinds & {"cure", "trim", "without", "together"}, change
        for fact in change.reasons:
            if fact.kind == "without":
                brought = abs(fact.numbers["both"] - fact.numbers["others"])
                assert brought >= 0.1 * min(1.0, abs(fact.numbers["wanted"])) - NEAR, fact


def test_a_smaller_part_is_taken_where_more_would_spoil_the_rest() -> None:
    """Softer right rear for bite off the corner: S11, S25; eased, not cured, and said so."""
    found = answer("snaps loose when I pick up the gas")
    assert found.plan is not None
    assert strongest(found.plan) == {("spring_rr", DOWN)}
    (left,) = (f for f in found.notes if f.kind == "left-open")
    assert 0.0 < left.numbers["got"] < left.numbers["wanted"]


def test_a_lever_that_model_and_trade_dispute_is_left_alone_unless_it_is_named() -> None:
    """Stiffer left rear tightens: S23, S24; at the flat track the model has it the other way."""
    found = answer("tight picking up the gas, why not the left rear spring", "tern-challenge", "millpond")
    assert "disputed" in {why.fact.kind for why in found.why_not if why.move == "spring_lr"}
    only = answer("tight picking up the gas, only the left rear spring", "tern-challenge", "millpond")
    assert only.plan is not None
    assert {c.setting for c in only.plan.changes} <= {"spring_lr"}


@pytest.mark.parametrize(
    ("phrase", "car"),
    [
        ("tight in the middle", "tern-challenge"),
        ("tight in the middle", "tern-club"),
        ("tight off, only what we can do on a stop", "tern-premier"),
        ("spinning the tires off the corner", "tern-challenge"),
        ("running hot", "tern-club"),
        ("loose in, tight off at half fuel", "tern-club"),
    ],
)
def test_every_change_of_several_brings_or_keeps_what_is_felt(phrase: str, car: str) -> None:
    """No crew sets a click that nobody feels (common practice, no source): what is told of a change is a part
    of a cure, or something that would go by noticeably more without it, or a limit of the car."""
    for track in shipped_tracks():
        found = answer(phrase, car, track)
        for plan in (found.plan, *found.alternatives):
            for change in plan.changes if plan and len(plan.moves) > 1 else ():
                for fact in change.reasons:
                    if fact.kind == "trim" and fact.names["channel"].startswith("balance/"):
                        others, both = abs(fact.numbers["others"]), abs(fact.numbers["both"])
                        assert others - both >= EARNED - 0.005, (track, change.move, fact)
                    if fact.kind == "without" and fact.names["channel"].startswith("balance/"):
                        wanted = fact.numbers["wanted"]
                        won = (fact.numbers["both"] - fact.numbers["others"]) / wanted
                        assert won * max(1.0, abs(wanted)) >= WORTH, (track, change.move, fact)
