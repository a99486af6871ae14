"""What the driver says was done of a list, on the whole road: reader, conversation, a logbook on disk.

What each phrase means is common practice, no source: a crew's way of saying that a change was left out, made
in part, or made otherwise.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.learning import Push
from grammar.reader import read
from service.contract import Advice
from service.conversation import converse
from service.library import Library
from service.logbook import Logbook
from service.state import SessionState, current

WEDGE, SPRING, BAR, TRACK_BAR = "cross_weight", "spring_rr", "front_bar", "track_bar_right"


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Library:
    return Library(tmp_path_factory.mktemp("sheets"))


class Talk:
    """A session whose newest list is the one the test hands out."""

    def __init__(self, logbook: Logbook, library: Library) -> None:
        self.logbook, self.library = logbook, library
        self.base = library.car().base_setup()

    def say(self, text: str) -> Advice:
        return converse(self.logbook, self.library, "red", text, alternatives=0)

    def hand_out(self, *keys: str, clicks: int = 2) -> None:
        """A complaint, and for it a list that moves these settings up by some clicks."""
        self.say("tight off")
        advised = next(e for e in reversed(self.logbook.events("red")) if e.kind == "advised")
        one = advised.data["advice"]["changes"][0]
        moves = {key: self.target(key, clicks) for key in keys}
        changes = [{**one, "setting": k, "from": self.base[k], "to": to} for k, to in moves.items()]
        pushes = [
            {"lever": p.lever, "clicks": p.clicks, "step": p.step, "doubt": p.doubt}
            for p in (Push(key, clicks, (-0.1,) * 15, (0.4,) * 5) for key in keys)
        ]
        advice = {**advised.data["advice"], "changes": changes}
        self.logbook.append("red", "advised", {"advice": advice, "kept": {"pushes": pushes}})

    def target(self, key: str, clicks: int) -> float:
        setting = self.library.car().setting(key)
        return setting.value_at(setting.click_of(self.base[key]) + clicks)

    @property
    def state(self) -> SessionState:
        return current(self.logbook, "red")

    @property
    def moved(self) -> set[str]:
        """Settings the car now has otherwise than at first."""
        return {key for key, value in self.state.setup.items() if value != self.base[key]}

    @property
    def learned(self) -> tuple[tuple[str, ...], int]:
        """Levers learned of, and reports since the first complaint."""
        return self.state.knowledge.levers, self.state.knowledge.reports - 1

    @property
    def fate(self) -> str:
        """What became of the list handed out."""
        return self.state.given[1].fate


@pytest.fixture
def talk(library: Library, tmp_path: Path) -> Iterator[Talk]:
    logbook = Logbook(tmp_path / "book.sqlite3")
    yield Talk(logbook, library)
    logbook.close()


NOT_THE_SPRINGS = (
    "we didn't do the springs",
    "never got to the springs",
    "skipped the springs",
    "left the springs alone",
    "couldn't get to the springs",
    "didn't have time for the springs",
    "forgot the springs",
    "the springs didn't get done",
    "did everything but the springs",
    "we did the wedge but not the springs",
    "only did the wedge",
    "just did the wedge",
    "the wedge was all we got done",
    "wedge is in, springs aren't",
    "had no time for the right rear spring",
    "did the wedge, ran out of time on the springs",
)


@pytest.mark.parametrize("tail", ["", ", still tight off"])
@pytest.mark.parametrize("said", NOT_THE_SPRINGS)
def test_what_was_left_out_is_not_in_the_car_and_not_learned_from(talk: Talk, said: str, tail: str) -> None:
    talk.hand_out(WEDGE, SPRING)
    talk.say(said + tail)
    assert (talk.moved, talk.fate) == ({WEDGE}, "partly")
    assert talk.learned == ((WEDGE,), int(bool(tail)))


NOTHING = (
    "we didn't change anything",
    "didn't get to it",
    "ran out of time",
    "no time to do it",
    "haven't changed anything yet",
    "we left it alone",
    "didn't do any of it",
    "none of it",
    "nothing got done",
    "we skipped it",
    "never got around to it",
    "we didn't touch the car",
    "we didn't do the wedge or the springs",
)


@pytest.mark.parametrize("said", NOTHING)
def test_a_list_that_was_not_done_stands_and_teaches_nothing(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, SPRING)
    told = talk.say(said)
    assert (talk.moved, talk.fate) == (set(), "pending"), told.summary
    assert "still stands" in told.summary
    assert talk.learned == ((), 0)
    talk.say("did it")
    assert talk.moved == {WEDGE, SPRING}


@pytest.mark.parametrize("said", NOTHING)
def test_a_complaint_on_an_unchanged_car_is_answered_and_teaches_nothing(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, SPRING)
    told = talk.say(f"{said}, still tight off")
    assert talk.moved == set() and told.status == "change"
    assert talk.learned == ((), 0)
    assert any("Nothing of the last list was done" in note for note in told.notes)
    assert {s.direction for s in talk.state.open} == {"tight"}


@pytest.mark.parametrize("said", ["couldn't do that", "we can't do that", "not doing that", "won't do that"])
def test_what_cannot_be_done_is_left_alone_from_then_on(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE)
    told = talk.say(said)
    assert (talk.moved, talk.fate) == (set(), "refused")
    assert WEDGE in talk.state.limits[0].settings and WEDGE not in {c.setting for c in told.changes}


def test_a_limit_on_a_change_of_the_list_means_it_was_not_made(talk: Talk) -> None:
    talk.hand_out(WEDGE, SPRING)
    talk.say("can't change the springs, still tight off")
    assert talk.moved == {WEDGE}


@pytest.mark.parametrize(
    "said",
    ["did it", "we did everything", "did all of it", "did both", "tight off", "still tight off", "no change"],
)
def test_what_was_done_is_in_the_car(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, SPRING)
    talk.say(said)
    assert (talk.moved, talk.fate) == ({WEDGE, SPRING}, "done")


@pytest.mark.parametrize(
    "said",
    [
        "only went half a point",
        "only did half a point",
        "we only put in half a point",
        "just went half a point",
    ],
)
def test_an_amount_is_that_of_the_one_change_it_fits(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, BAR)
    talk.say(said + ", still tight off")
    assert talk.state.setup[WEDGE] == pytest.approx(talk.base[WEDGE] + 0.5)
    assert talk.fate == "partly" and talk.moved == {WEDGE, BAR}


def test_undoing_half_a_change_takes_back_half(talk: Talk) -> None:
    talk.hand_out(WEDGE)
    talk.say("only went half a point")
    before = talk.state.knowledge
    talk.say("undo that")
    after = talk.state.knowledge
    assert talk.moved == set()
    assert after.mean[0] - before.mean[0] == pytest.approx(
        0.1 * 0.5 / (talk.target(WEDGE, 1) - talk.base[WEDGE])
    )


@pytest.mark.parametrize(
    "said", ["did half of it", "only went half of it", "went halfway", "we went half way, still tight off"]
)
def test_half_of_the_one_change(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, clicks=2)
    advice = talk.say(said)
    assert (talk.fate, talk.state.setup[WEDGE]) == ("partly", talk.target(WEDGE, 1))
    assert not any("two steps" in note for note in advice.notes)


def test_half_of_a_named_change_leaves_the_rest_done(talk: Talk) -> None:
    talk.hand_out(WEDGE, SPRING, clicks=2)
    talk.say("went halfway on the wedge, still tight off")
    assert talk.state.setup[WEDGE] == talk.target(WEDGE, 1)
    assert talk.state.setup[SPRING] == talk.target(SPRING, 2)


@pytest.mark.parametrize("said", ["tight halfway through the corner", "it went loose halfway in"])
def test_halfway_in_the_corner_is_no_deed(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, clicks=2)
    talk.say(said)
    assert (talk.fate, talk.state.setup[WEDGE]) == ("done", talk.target(WEDGE, 2))


def test_a_value_between_two_steps_is_said_to_be_noted_as_the_nearest(talk: Talk) -> None:
    talk.hand_out(WEDGE, clicks=3)
    advice = talk.say("went halfway, still tight off")
    label = talk.library.car().setting(WEDGE).label
    taken = talk.state.setup[WEDGE]
    assert any(label in n and "between two steps" in n and f"noted as {taken:g}" in n for n in advice.notes)


@pytest.mark.parametrize(
    "said",
    [
        "we went up 20 on the right rear spring instead",
        "we raised the right rear spring 20 instead",
        "went up 20 on the right rear spring instead",
    ],
)
def test_a_change_of_the_drivers_own_is_in_the_car_and_the_list_is_not(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE)
    talk.say(said)
    assert talk.moved == {SPRING}
    assert talk.state.setup[SPRING] == pytest.approx(talk.base[SPRING] + 20)
    assert talk.state.knowledge.levers == ()


@pytest.mark.parametrize(
    "said", ["skipped the bar", "didn't do the bar", "left the bar alone", "forgot the bar"]
)
def test_the_bar_is_the_one_on_the_list(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, TRACK_BAR)
    talk.say(said + ", still tight off")
    assert talk.moved == {WEDGE}


@pytest.mark.parametrize(("reply", "left"), [("the track bar", TRACK_BAR), ("front bar", BAR)])
def test_two_bars_on_the_list_are_asked_about_once(talk: Talk, reply: str, left: str) -> None:
    talk.hand_out(BAR, TRACK_BAR)
    asked = talk.say("skipped the bar, still tight off")
    assert asked.status == "question" and "Which" in asked.summary
    assert (talk.moved, talk.fate) == (set(), "pending")
    assert talk.say(reply).status != "question"
    assert talk.moved == {BAR, TRACK_BAR} - {left}


@pytest.mark.parametrize(("reply", "moved"), [("yes", {WEDGE, SPRING}), ("no", {SPRING}), ("nope", {SPRING})])
@pytest.mark.parametrize("said", ["did the springs", "we put the springs in", "we did the right rear spring"])
def test_the_rest_is_asked_about_when_only_one_was_named(
    talk: Talk, said: str, reply: str, moved: set[str]
) -> None:
    talk.hand_out(WEDGE, SPRING)
    asked = talk.say(said + ", still tight off")
    assert asked.status == "question" and "done too" in asked.summary and talk.moved == set()
    talk.say(reply)
    assert talk.moved == moved
    assert {s.direction for s in talk.state.open} == {"tight"}


@pytest.mark.parametrize(
    ("reply", "fate"), [("the list was not done", "pending"), ("it made no difference", "done")]
)
def test_did_not_change_anything_is_asked_about(talk: Talk, reply: str, fate: str) -> None:
    talk.hand_out(WEDGE)
    asked = talk.say("didn't change anything")
    assert asked.status == "question" and talk.fate == "pending"
    talk.say(reply)
    assert talk.fate == fate


@pytest.mark.parametrize(
    "said", ["that didn't change anything", "it didn't do anything", "the springs didn't help"]
)
def test_a_change_that_did_nothing_was_done(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, SPRING)
    talk.say(said)
    assert talk.fate == "done"


def test_a_change_that_was_not_on_the_list_is_asked_about(talk: Talk) -> None:
    talk.hand_out(WEDGE)
    asked = talk.say("didn't do the springs, still tight off")
    assert asked.status == "question" and "not on the list" in asked.summary and talk.moved == set()
    talk.say("no")
    assert talk.moved == set() and {s.direction for s in talk.state.open} == {"tight"}


@pytest.mark.parametrize(
    "said",
    [
        "the weather is nice",
        "nice weather today",
        "good morning",
        "lunch was great",
        "the beer was good",
        "what time is it",
        "hello",
        "thanks",
        "who won the race",
        "just the wedge",
        "the track is fast",
    ],
)
def test_talk_of_other_things_is_not_taken_for_a_run(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE, SPRING)
    talk.say(said)
    assert talk.moved == set()
    assert talk.learned == ((), 0) and talk.state.open


@pytest.mark.parametrize(
    "said", ["good", "the car is good", "it's really good", "looks good boss", "that was great"]
)
def test_praise_of_the_car_still_closes_the_complaint(talk: Talk, said: str) -> None:
    talk.hand_out(WEDGE)
    talk.say(said)
    assert talk.moved == {WEDGE} and not talk.state.open


@pytest.mark.parametrize(
    ("text", "direction", "phase"),
    [
        ("we didn't do the springs still tight off", "tight", "exit-full-throttle"),
        ("didn't get to it so loose in", "loose", "entry-braking"),
        ("never got to the track bar but it's loose in the middle", "loose", "centre"),
    ],
)
def test_the_not_of_a_deed_is_not_the_symptoms(text: str, direction: str, phase: str) -> None:
    live = read(text).live()
    assert [(s.direction, phase in s.phases, s.state) for s in live] == [(direction, True, "live")]


@pytest.mark.parametrize(
    "text",
    [
        "did the springs help",
        "what did the wedge do",
        "leave the springs alone",
        "tight off, not the wedge",
        "couldn't get it loosened up",
        "the car won't turn",
        "never had any grip",
    ],
)
def test_wishes_questions_and_complaints_tell_of_no_deed(text: str) -> None:
    assert not [o for o in read(text).outcomes if o.verdict in ("done", "partly-done", "refused")]
