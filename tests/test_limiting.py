"""Limits and their lifting, from the words to the next list (usage: reference of driver talk; what a lifting
undoes is common practice, no source)."""

import pytest

from engine.wishes import in_force
from grammar.intent import Limit, Span
from grammar.reader import read
from service.conversation import converse
from service.library import Library
from service.logbook import Logbook
from service.state import current

NOWHERE = Span(0, 0, "")
SPRINGS = ("spring_lf", "spring_rf", "spring_lr", "spring_rr")


def limit(kind: str, *settings: str, number: int | None = None) -> Limit:
    return Limit(kind, settings, number, NOWHERE)


def kinds(text: str) -> list[str]:
    return [one.kind for one in read(text).limits]


@pytest.mark.parametrize(
    "text",
    [
        "I can't touch the brakes getting in or it comes around",
        "it's locking the rear brakes",
        "I don't touch the brakes and it's still loose in",
        "stay off the brakes and it rolls fine",
        "the rear stays put now",
        "the right front stays stuck",
        "anything but good in the middle",
    ],
)
def test_driving_and_handling_are_no_limits(text: str) -> None:
    assert kinds(text) == []


@pytest.mark.parametrize(
    "text", ["rear's locked by the rules", "don't touch the front end", "leave the rear alone"]
)
def test_a_limit_on_an_end_of_the_car_complains_of_nothing(text: str) -> None:
    reading = read(text)

    assert [one.kind for one in reading.limits] == ["not"]
    assert reading.symptoms == ()


def test_an_okay_that_opens_a_limit_praises_nothing() -> None:
    assert read("okay you can use the rear springs again").good == ()
    assert read("okay tight in").good == ()
    assert read("it's okay in").good == ("entry-braking", "entry-rolling")


def test_a_lifting_undoes_what_was_said_before_it_and_nothing_behind_it() -> None:
    no_springs, no_wedge = limit("not", *SPRINGS), limit("not", "cross_weight")

    assert in_force([no_springs, no_wedge, limit("lift", *SPRINGS)]) == (no_wedge,)
    assert in_force([limit("lift", *SPRINGS), no_springs]) == (no_springs,)
    assert in_force([no_springs, no_wedge, limit("lift")]) == ()
    assert in_force([no_springs, limit("lift", "spring_rr")]) == (limit("not", *SPRINGS[:3]),)


def test_only_grows_by_what_may_be_used_too() -> None:
    assert in_force([limit("only", "pressure_lf"), limit("lift", "cross_weight")]) == (
        limit("only", "pressure_lf", "cross_weight"),
    )


def test_a_pit_stop_and_a_count_are_lifted_alone() -> None:
    stop, two = limit("stop-only"), limit("max-changes", number=2)

    assert in_force([stop, two, limit("lift-stop")]) == (two,)
    assert in_force([stop, two, limit("lift-count")]) == (stop,)


class Talk:
    def __init__(self, library: Library) -> None:
        self.library, self.logbook = library, Logbook(":memory:")

    def say(self, text: str) -> tuple[set[str], list[str]]:
        """Settings of the list that is answered, and the notes."""
        advice = converse(self.logbook, self.library, "red", text)
        return {change.setting for change in advice.changes}, advice.notes

    def standing(self) -> list[tuple[str, tuple[str, ...]]]:
        return [(one.kind, one.settings) for one in current(self.logbook, "red").limits]


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Library:
    return Library(tmp_path_factory.mktemp("sheets"))


@pytest.fixture
def talk(library: Library) -> Talk:
    return Talk(library)


def test_the_brakes_are_left_alone_until_they_may_be_touched(talk: Talk) -> None:
    free, _ = talk.say("tight in")
    assert "brake_bias" in free, "else the test shows nothing"

    held, _ = talk.say("leave the brakes alone")
    again, _ = talk.say("okay you can touch the brakes again")

    assert "brake_bias" not in held
    assert again == free
    assert talk.standing() == []


@pytest.mark.parametrize(
    "lifting", ["we're in the garage now", "forget the stop thing", "we can change springs now"]
)
def test_a_pit_stop_is_over_when_the_driver_says_so(talk: Talk, lifting: str) -> None:
    on_a_stop, _ = talk.say("tight in the middle, only what we can do on a stop")
    in_the_garage, _ = talk.say(lifting)

    assert in_the_garage and in_the_garage != on_a_stop
    assert in_the_garage == Talk(talk.library).say("tight in the middle")[0]


def test_take_anything_lifts_all_of_it(talk: Talk) -> None:
    free, _ = talk.say("tight in the middle")
    talk.say("no shocks")
    talk.say("leave the right front alone")
    assert [kind for kind, _ in talk.standing()] == ["not", "not"]

    assert talk.say("take anything")[0] == free
    assert talk.standing() == []


def test_a_limit_said_before_any_complaint_is_noted_and_holds(talk: Talk) -> None:
    _, notes = talk.say("no springs tonight")
    talk.say("and leave the brakes alone")
    talk.say("tight in")

    assert "Noted for the lists to come: no springs tonight." in notes
    assert talk.standing() == [("not", SPRINGS), ("not", ("brake_bias",))]


def test_lifting_what_never_stood_says_so(talk: Talk) -> None:
    talk.say("tight in the middle")

    assert any(
        note.startswith("Nothing was held back there before")
        for note in talk.say("springs are back on the table")[1]
    )


def test_a_change_that_is_named_is_taken_back_alone(talk: Talk) -> None:
    changes, _ = talk.say("loose in")
    assert "brake_bias" in changes and len(changes) > 1, "else the test shows nothing"
    talk.say("did it, no change")
    before = dict(current(talk.logbook, "red").setup)

    talk.say("undo the brake bias")

    after = current(talk.logbook, "red").setup
    assert {key for key in before if before[key] != after[key]} == {"brake_bias"}
