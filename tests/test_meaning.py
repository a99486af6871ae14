"""One meaning, one answer: texts that say the same share it, whatever else goes in keeps answers apart, and a
remembered answer is the one made from nothing."""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from engine import adviser
from engine.adviser import Case, advise
from engine.history import History, PastStep
from engine.learning import UNKNOWN, Knowledge, Push, carried
from engine.meaning import known_by, meaning_of
from engine.memo import forget_all, forget_plans
from engine.sheets import at_track, shipped_cars, shipped_tracks
from engine.style import Style
from engine.verdict import Verdict
from grammar.intent import Question, Reading, Span
from grammar.reader import read
from service.answering import answer
from service.contract import AdviceRequest
from service.library import Library

LIBRARY = Library()
PAIRS = (
    ("loose in", "The car is loose going in."),
    ("tight off, not the wedge", "not the wedge, but it's tight off"),
    ("tight in the middle", "it pushes in the center"),
    ("put the front bar to 1.5", "front bar to 1.5 please"),
    ("keep the rear split, loose in", "loose in, keep the rear split"),
    ("loose in qwzx", "loose in zzkq"),
)
WORDING = {"text", "understood", "ignored", "corrections"}
"""Fields of a reading that are about its words only; all others are its meaning."""


def _asked(text: str) -> dict[str, Any]:
    return answer(AdviceRequest(text=text), LIBRARY).model_dump(by_alias=True)


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_two_texts_of_one_meaning_have_one_answer_but_for_their_words(one: str, other: str) -> None:
    assert meaning_of(read(one)) == meaning_of(read(other))
    forget_all()
    first = _asked(one)
    kept = len(adviser._VERDICTS)
    shared = _asked(other)
    assert len(adviser._VERDICTS) == kept == 1
    forget_all()
    assert shared == _asked(other)
    assert shared["reading"]["text"] == other != first["reading"]["text"]
    assert {**shared, "reading": None} == {**first, "reading": None}


@pytest.mark.parametrize("name", [f.name for f in fields(Reading)])
def test_every_field_of_a_reading_is_either_its_words_or_its_meaning(name: str) -> None:
    """A field that is added to `Reading` fails here until it is said which it is."""
    plain, span = read("loose in"), Span(3, 5, "xx")
    other = read(
        "tight off, RF wear 60 percent, not the wedge, put the front bar to 1.5, last change was better"
    )
    changed: dict[str, Any] = {
        "text": "Loose in",
        "understood": (span,),
        "ignored": (span,),
        "unknown": (span,),
        "corrections": read("losse in").corrections,
        "questions": (Question("phase", "Where?", (), span),),
        "stop": "brakes",
        "driver": True,
        "good": ("centre",),
        "good_stages": ("late",),
    }
    value = changed.get(name, getattr(other, name))
    assert value != getattr(plain, name)
    same = meaning_of(replace(plain, **{name: value})) == meaning_of(plain)
    assert same == (name in WORDING)


def test_a_span_says_nothing_but_that_a_split_is_to_be_kept() -> None:
    split, pair = read("keep the rear split, loose in"), read("keep the rear springs, loose in")
    moved = tuple(replace(x, span=Span(90, 95, x.span.text.upper())) for x in split.limits)
    assert meaning_of(replace(split, limits=moved)) == meaning_of(split)
    assert split.limits[0].span.text != pair.limits[0].span.text
    assert meaning_of(split) != meaning_of(pair)


def _knowledge() -> Knowledge:
    car, track = _base()["car"], _base()["track"]
    plan = advise(read("loose in"), car, track, car.base_setup()).plan
    assert plan is not None
    heard = carried(UNKNOWN, plan.pushes)
    return replace(heard, reports=2, stages=frozenset({"half"}))


def _base() -> dict[str, Any]:
    track = shipped_tracks()["millpond"]
    car = at_track(shipped_cars()["tern-club"], track)
    return {"reading": read("loose in, tight off"), "car": car, "track": track, "setup": car.base_setup()}


def _others() -> Mapping[str, list[Any]]:
    """Input of an answer → other values of it than those of `_base` (and than the defaults)."""
    base, tracks, known = _base(), shipped_tracks(), _knowledge()
    mean = known.mean.copy()
    mean[0] = np.nextafter(mean[0], np.inf)
    cov = known.cov.copy()
    cov[-1, -1] *= 1.5
    past = PastStep("cross_weight", 50.0, 50.5, "better")
    nothing: tuple[Push, ...] = ()
    believed = [
        known,
        replace(known, mean=mean),
        replace(known, cov=cov),
        replace(known, last=nothing),
        replace(known, reports=3),
        replace(known, stages=frozenset({"late"})),
    ]
    return {
        "reading": [read("loose in"), read("loose in, tight off, not the wedge"), read("loose in at half")],
        "car": [at_track(shipped_cars()["tern-premier"], base["track"]), base["car"].model_copy()],
        "track": [tracks["stonecup"], base["track"].model_copy(update={"wear": "harsh"})],
        "setup": [{**base["setup"], "cross_weight": base["setup"]["cross_weight"] + 0.5}],
        "history": [
            History((past,)),
            History((replace(past, verdict="worse"),)),
            History((), (frozenset({"toe_front"}),)),
        ],
        "knowledge": believed,
        "style": [Style("test"), Style("race", "safer"), Style("race", "neutral", "harsh")],
        "alternatives": [0, 1],
        "max_moves": [1, 2],
    }


def _ask(inputs: Mapping[str, Any]) -> Verdict:
    given = dict(inputs)
    if given["car"].id != "tern-club" and given["setup"] == _base()["setup"]:
        given["setup"] = given["car"].base_setup()
    return advise(**given)


def test_the_inputs_tried_below_are_all_there_are() -> None:
    assert set(_others()) == {f.name for f in fields(Case)}
    assert {f.name for f in fields(Knowledge)} == {"mean", "cov", "levers", "last", "reports", "stages"}


@pytest.mark.parametrize("name", [f.name for f in fields(Case)])
def test_whatever_goes_in_keeps_answers_apart(name: str) -> None:
    base, others = _base(), _others()[name]
    forget_plans()
    _ask(base)
    warm = []
    for kept, other in enumerate(others, 2):
        warm.append(_ask({**base, name: other}))
        assert len(adviser._VERDICTS) == kept  # asked anew, not taken from a neighbour
    again = [_ask({**base, name: other}) for other in others]
    for one, two, other in zip(warm, again, others, strict=True):
        forget_plans()
        assert one is two
        assert one == _ask({**base, name: other})


def test_beliefs_are_told_apart_by_every_part() -> None:
    known = _knowledge()
    assert known.levers
    assert known_by(known) == known_by(replace(known, mean=known.mean.copy(), cov=known.cov.copy()))
    assert known_by(known) != known_by(replace(known, levers=tuple(reversed(("x", *known.levers)))))
    assert known_by(known) != known_by(None)


def test_forgetting_forgets_and_what_is_kept_is_bounded() -> None:
    _ask(_base())
    assert len(adviser._VERDICTS) >= 1
    forget_all()
    assert len(adviser._VERDICTS) == 0
    base = _base()
    for value in range(adviser._VERDICTS.size + 20):
        _ask({**base, "reading": Reading("", unknown=()), "max_moves": value})
    assert len(adviser._VERDICTS) == adviser._VERDICTS.size


def test_an_answer_is_nobody_elses() -> None:
    """What one caller does to an answer, no other sees."""
    first = answer(AdviceRequest(text="loose in"), LIBRARY)
    before = first.model_dump_json()
    first.changes.clear()
    first.alternatives[0].changes[0].reasons[0].numbers["load_before"] = -1.0
    first.expected.clear()
    assert answer(AdviceRequest(text="loose in"), LIBRARY).model_dump_json() == before


def test_threads_asking_at_once_get_their_own_answers() -> None:
    texts = [text for pair in PAIRS[:4] for text in pair]
    forget_all()
    alone = {text: _asked(text) for text in texts}
    forget_all()
    with ThreadPoolExecutor(6) as pool:
        together = list(pool.map(_asked, texts * 3))
    assert together == [alone[text] for text in texts * 3]
