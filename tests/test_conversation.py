"""Whole conversations through the real reader, planner and logbook, and the fold behind them.

What a report does to symptoms is common practice, no source: "better" eases, "no change" keeps, "too far"
turns round.
"""

import random
import sqlite3
from pathlib import Path

import pytest

from engine.errors import UnknownName, ValueOutside
from engine.learning import UNKNOWN
from grammar.intent import Outcome, Reading, Span
from service.answering import answer
from service.carried import carried_out
from service.contract import Advice, AdviceRequest
from service.conversation import converse, forget
from service.learned import learned
from service.library import Library
from service.logbook import Logbook
from service.recall import history_of
from service.state import Given, SessionState, current, fold

NOWHERE = Span(0, 0, "")


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Library:
    return Library(tmp_path_factory.mktemp("sheets"))


class Talk:
    """A session to say things in."""

    def __init__(self, logbook: Logbook, library: Library, name: str = "red") -> None:
        self.logbook, self.library, self.name = logbook, library, name

    def say(self, text: str, **context: object) -> Advice:
        return converse(self.logbook, self.library, self.name, text, **context)  # type: ignore[arg-type]

    @property
    def state(self) -> SessionState:
        return current(self.logbook, self.name)

    def worked(self) -> set[tuple[str | None, str]]:
        """(direction, phase) of what is open."""
        return {(s.direction, phase) for s in self.state.open for phase in s.phases}


@pytest.fixture
def talk(library: Library) -> Talk:
    return Talk(Logbook(":memory:"), library)


ENTRY = {("loose", "entry-braking"), ("loose", "entry-rolling")}
EXIT = {("tight", "exit-first-throttle"), ("tight", "exit-full-throttle")}


def test_a_first_complaint_gets_the_answer_it_gets_on_its_own(talk: Talk) -> None:
    alone = answer(AdviceRequest(text="a bit tight everywhere"), talk.library)
    first = talk.say("a bit tight everywhere")
    assert first.changes == alone.changes and first.status == "change"
    assert talk.state.setup == {}, "nothing is done until the driver has driven it"


def test_better_in_but_still_tight_off(talk: Talk) -> None:
    first = talk.say("loose in, tight off at half fuel")
    assert talk.worked() == ENTRY | EXIT
    second = talk.say("better in but still tight off")
    assert talk.worked() == EXIT
    assert talk.state.setup == {c.setting: c.to for c in first.changes}
    assert second.status == "change"
    assert {c.setting: c.from_ for c in second.changes}.items() <= {
        **talk.library.car().base_setup(),
        **talk.state.setup,
    }.items()


def test_fixed_closes_everything(talk: Talk) -> None:
    talk.say("tight in the middle")
    done = talk.say("that fixed it")
    assert (done.status, done.changes, talk.state.open) == ("no_change", [], ())


def test_no_change_keeps_the_symptom_and_the_same_lever_is_not_pushed_on(talk: Talk) -> None:
    first = talk.say("a bit tight everywhere")
    second = talk.say("no change")
    assert {s.direction for s in talk.state.open} == {"tight"}
    tried = {c.setting: c.clicks > 0 for c in first.changes}
    again = {c.setting: c.clicks > 0 for c in second.changes}
    assert not tried.items() & again.items()


def test_too_far_turns_the_symptom_round(talk: Talk) -> None:
    talk.say("tight off")
    talk.say("went too far")
    assert talk.worked() == {("loose", phase) for _, phase in EXIT}
    assert {s.severity for s in talk.state.open} == {"slight"}


def test_worse_makes_it_one_degree_worse_and_the_change_may_go_back(talk: Talk) -> None:
    first = talk.say("tight off")
    talk.say("worse off")
    assert {s.severity for s in talk.state.open} == {"severe"}
    barred = history_of(talk.state).barred()
    for change in first.changes:
        assert (1 if change.clicks > 0 else -1) in barred[change.setting]


def test_silence_on_what_was_worked_on_closes_it(talk: Talk) -> None:
    talk.say("loose in")
    talk.say("tight off")
    assert talk.worked() == EXIT
    assert talk.state.given[0].verdicts["entry-braking"] == "quiet"


def test_a_word_on_something_else_says_nothing_of_the_balance(talk: Talk) -> None:
    talk.say("tight off")
    talk.say("it's running hot")
    assert talk.worked() >= EXIT
    assert {s.kind for s in talk.state.open} > {"balance"}


def test_a_change_the_driver_asked_for_is_learned_from_too(talk: Talk) -> None:
    talk.say("run a 1.25 front bar")
    talk.say("did it")
    assert talk.state.setup["front_bar"] == 1.25
    assert "front_bar" in talk.state.knowledge.levers


def test_a_list_that_was_replaced_before_it_was_driven_is_not_taken_back(talk: Talk) -> None:
    talk.say("tight in the middle")
    talk.say("something else")
    talk.say("undo that")
    assert "no change of ours" in talk.say("undo that").summary


def test_did_it_moves_the_set_up_and_asks_for_nothing(talk: Talk) -> None:
    first = talk.say("loose in")
    told = talk.say("did it")
    assert (told.status, told.changes) == ("no_change", [])
    assert talk.state.setup == {c.setting: c.to for c in first.changes}
    assert talk.worked() == ENTRY


def test_undo_puts_the_car_back_and_opens_the_symptoms_again(talk: Talk) -> None:
    first = talk.say("loose in")
    talk.say("tight off")
    back = talk.say("undo that")
    assert back.status == "no_change" and back.changes == []
    assert any("never done" in note for note in back.notes), "the second list was only advised"
    for change in first.changes:
        assert f"{change.label} back to {change.from_:g}" in back.summary
        assert talk.state.setup[change.setting] == change.from_
    assert talk.worked() == ENTRY
    assert "no change of ours" in talk.say("undo that").summary


def test_a_list_that_was_never_done_is_not_taken_back(talk: Talk) -> None:
    first = talk.say("tight off")
    before = talk.state
    told = talk.say("undo that")
    assert "Nothing is done that could be undone" in told.summary and told.changes == []
    assert talk.state.setup == before.setup == {}
    assert talk.state.last is not None and talk.state.last.fate == "pending"
    talk.say("did it")
    assert talk.state.setup == {c.setting: c.to for c in first.changes}
    assert "back to" in talk.say("undo that").summary


def test_something_else_never_gives_the_same_list_twice(talk: Talk) -> None:
    seen = [frozenset(c.setting for c in talk.say("tight in the middle").changes)]
    for _ in range(4):
        advice = talk.say("something else")
        if not advice.changes:
            break
        seen.append(frozenset(c.setting for c in advice.changes))
    assert len(seen) == len(set(seen)) >= 2


@pytest.mark.parametrize("text", ["tight off, only what we can do on a stop", "tight in, only on a stop"])
def test_something_else_stays_on_the_stop_it_was_asked_for(talk: Talk, text: str) -> None:
    """What the driver limited stays limited for every other list (common practice, no source)."""
    talk.say(text)
    for _ in range(4):
        advice = talk.say("something else")
        for plan in (advice.changes, *(other.changes for other in advice.alternatives)):
            assert {change.where for change in plan} <= {"stop"}
        if not advice.changes:
            break


@pytest.mark.parametrize(
    ("text", "locked"),
    [
        ("tight off, not the springs", "spring_"),
        ("tight off, not the wedge, one change only", "cross_weight"),
    ],
)
def test_something_else_keeps_the_other_limits_too(talk: Talk, text: str, locked: str) -> None:
    most = 1 if "one change" in text else 3
    talk.say(text)
    for _ in range(3):
        for change in (told := talk.say("something else").changes):
            assert not change.setting.startswith(locked)
        assert len({c.setting for c in told if c.reasons[0].kind != "together"}) <= most


def test_a_limit_on_one_list_gives_way_to_another_of_its_kind_and_to_a_new_report(talk: Talk) -> None:
    talk.say("tight off, only the springs")
    other = talk.say("something else, only the track bar")
    assert other.changes
    assert all(change.setting.startswith("track_bar") for change in other.changes)
    talk.say("did it")
    talk.say("still tight off")
    assert talk.state.limits == ()


def test_why_tells_the_reasons_of_the_last_list(talk: Talk) -> None:
    first = talk.say("tight in the middle")
    told = talk.say("why")
    assert all(reason.text in told.summary for change in first.changes for reason in change.reasons)
    assert talk.state.last is not None and talk.state.last.fate == "pending"


def test_a_question_is_completed_by_the_next_words(talk: Talk) -> None:
    asked = talk.say("it's loose")
    assert asked.status == "question" and list(talk.state.question) == ["it's loose"]
    told = talk.say("off")
    assert told.status == "change" and not list(talk.state.question)
    assert talk.worked() == {("loose", phase) for _, phase in EXIT}


def test_a_new_complaint_is_not_taken_for_the_answer(talk: Talk) -> None:
    talk.say("it's loose")
    talk.say("tight in the middle")
    assert talk.worked() == {("tight", "centre")}


def test_a_lever_the_driver_rules_out_stays_ruled_out(talk: Talk) -> None:
    first = talk.say("a bit tight everywhere, not the wedge")
    second = talk.say("still a bit tight everywhere")
    settings = {c.setting for c in (*first.changes, *second.changes)}
    assert settings and "cross_weight" not in settings


def test_a_stop_word_stops_and_leaves_the_session_as_it_was(talk: Talk) -> None:
    talk.say("tight off")
    assert talk.say("smoke in the cockpit").status == "stop"
    assert talk.worked() == EXIT
    assert talk.state.last is not None and talk.state.last.fate == "pending"


def test_what_was_learned_is_shown_and_can_be_forgotten(talk: Talk) -> None:
    talk.say("tight off")
    talk.say("no change")
    assert talk.state.knowledge.levers
    assert any("times what was first thought" in line for line in learned(talk.state, talk.library.car()))
    forget(talk.logbook, "red")
    assert talk.state.knowledge is UNKNOWN
    assert learned(talk.state, talk.library.car()) == []


def test_another_car_starts_afresh_but_naming_the_default_one_does_not(talk: Talk) -> None:
    talk.say("tight off")
    talk.say("tight off", car="tern-premier")
    assert talk.state.knowledge.levers
    talk.say("tight off", car="tern-club")
    assert talk.state.setup == {} and talk.state.knowledge.levers == ()


def test_sessions_do_not_mix(talk: Talk) -> None:
    other = Talk(talk.logbook, talk.library, "blue")
    talk.say("tight off")
    other.say("loose in")
    assert (talk.worked(), other.worked()) == (EXIT, ENTRY)


def test_another_process_continues_where_this_one_stopped(tmp_path: Path, library: Library) -> None:
    one = Talk(Logbook(tmp_path / "book.sqlite3"), library)
    two = Talk(Logbook(tmp_path / "book.sqlite3"), library)
    one.say("loose in, tight off")
    two.say("better in but still tight off")
    assert one.worked() == two.worked() == EXIT
    afresh = fold(SessionState(), one.logbook.events("red"))
    assert (afresh.setup, afresh.open, afresh.given) == (one.state.setup, one.state.open, one.state.given)
    assert (afresh.knowledge.mean == two.state.knowledge.mean).all()
    one.logbook.close()
    two.logbook.close()


def test_a_full_disk_does_not_stop_the_answer_nor_the_talk(tmp_path: Path, library: Library) -> None:
    """`max_page_count` stands in for the full disk (SQLITE_FULL in both cases)."""
    talk = Talk(Logbook(tmp_path / "book.sqlite3"), library)
    talk.say("loose in, tight off")
    db: sqlite3.Connection = talk.logbook._db
    db.execute(f"PRAGMA max_page_count = {db.execute('PRAGMA page_count').fetchone()[0]}")
    advice = talk.say("better in but still tight off")
    assert advice.changes and any("disk is full" in note and "not kept" in note for note in advice.notes)
    assert talk.worked() == EXIT, "this process remembers"
    assert len([e for e in talk.logbook.events("red") if e.kind == "said"]) == 1
    talk.logbook.close()


@pytest.mark.parametrize(
    ("context", "error"),
    [({"setup": {"cross_weight": 99.0}}, ValueOutside), ({"car": "no-such-car"}, UnknownName)],
)
def test_what_cannot_be_answered_is_not_written(
    talk: Talk, context: dict[str, object], error: type[Exception]
) -> None:
    with pytest.raises(error):
        talk.say("tight off", **context)
    assert talk.logbook.events("red") == []


def test_no_accepted_change_is_undone_and_no_value_leaves_the_sheet(library: Library) -> None:
    """Random reports; settings whose complaint was fixed, eased or not heard of again may only go further."""
    rng = random.Random(3)
    reports = (
        "tight off", "a bit loose in", "better in but still tight off", "better off but loose in the middle",
        "no change", "tight in the middle", "slightly loose on the brakes, tight off",
    )  # fmt: skip
    car = library.car()
    for name in range(4):
        talk = Talk(Logbook(":memory:"), library, f"s{name}")
        for _ in range(6):
            advice = talk.say(rng.choice(reports), alternatives=0)
            car.complete({**talk.state.setup, **{c.setting: c.to for c in advice.changes}})
            made = SessionState(given=talk.state.given[:-1])
            accepted = {
                step.setting: step.sign
                for step in history_of(made).steps
                if step.verdict in ("fixed", "better", "quiet")
            }
            newest = {step.setting: step.verdict for step in history_of(made).steps}
            for change in advice.changes:
                if newest.get(change.setting) in ("fixed", "better", "quiet"):
                    assert (change.clicks > 0) == (accepted[change.setting] > 0), change


def _given() -> Given:
    return Given(
        1, {"cross_weight": 50.5, "front_bar": 1.25}, {"cross_weight": 49.5, "front_bar": 1.25}, (), {}, {}
    )


def _said(verdict: str, setting: str | None = None, amount: float | None = None) -> Reading:
    return Reading("", outcomes=(Outcome(verdict, None, (), setting, amount, NOWHERE),))


def test_only_went_half_a_point(library: Library) -> None:
    done = carried_out(_given(), _said("partly-done", "cross_weight", 0.5), library.car())
    assert (done.how, done.changes["cross_weight"]) == ("partly", 50.0)


def test_an_amount_without_a_lever_goes_to_the_change_it_fits(library: Library) -> None:
    assert (
        carried_out(_given(), _said("partly-done", None, 0.5), library.car()).changes["cross_weight"] == 50.0
    )


def test_how_far_is_asked_not_guessed(library: Library) -> None:
    for said, asked in (((None, None), "How far"), ((None, 7.0), "Which change")):
        unclear = carried_out(_given(), _said("partly-done", *said), library.car()).unclear
        assert unclear is not None and asked in unclear.text


def test_a_refused_change_was_not_made(library: Library) -> None:
    done = carried_out(_given(), _said("refused", "cross_weight"), library.car())
    assert done.how == "partly" and done.refused == ("cross_weight",)
    assert done.changes == {"cross_weight": 50.5, "front_bar": 1.25}
    whole = carried_out(_given(), _said("refused"), library.car())
    assert whole.how == "refused" and whole.changes == _given().before


def test_only_the_newest_list_is_kept_whole_and_older_ones_can_be_taken_back(
    talk: Talk, library: Library
) -> None:
    """A service remembers many long sessions; the logbook has all that was said."""
    first = talk.say("loose in, tight off")
    talk.say("did it: better in, same off")
    talk.say("tight in the middle")

    *older, newest = talk.state.given
    assert set(newest.advice) == set(Advice.model_fields)
    assert [set(given.advice) for given in older] == [{"changes"}] * 2
    assert [step["to"] for step in older[0].advice["changes"]] == [change.to for change in first.changes]

    talk.say("undo that")
    talk.say("undo that")
    car = library.car()
    assert car.complete(talk.state.setup) == car.base_setup()
