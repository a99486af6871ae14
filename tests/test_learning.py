"""Learning and hedging: the belief against numerical integration and sampling, and what a crew would expect
of it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm, truncnorm

from engine.adviser import advise
from engine.channels import BALANCE
from engine.hearing import listen
from engine.hedging import normal_cdf
from engine.learning import (
    LEAN_SD,
    NOISE,
    SOURCE,
    UNKNOWN,
    Heard,
    Knowledge,
    Push,
    balance_now,
    carried,
    cut_normal,
    drifted,
    gains,
    heard,
)
from engine.levers import applied, doubt, pushes_of, spread_of
from engine.response import Response
from engine.sensitivity import respond
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks
from grammar.reader import read
from service.learned import learned
from service.sentences import say
from service.state import SessionState

CENTRE = BALANCE.index("balance/centre/half")
ENTRY = BALANCE.index("balance/entry-braking/half")
CROSS = Push("cross_weight", 1.0, (0.5,) * 15, (0.4,) * 5)


@pytest.fixture(scope="module")
def response() -> Response:
    car, track = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
    return respond(car, track, car.base_setup())


@given(st.floats(-5.0, 5.0), st.floats(0.05, 8.0))
def test_a_cut_normal_has_the_mean_and_variance_scipy_gives(low: float, width: float) -> None:
    """scipy.stats.truncnorm."""
    mean, variance = cut_normal(low, low + width)
    expected = truncnorm(low, low + width)
    assert mean == pytest.approx(expected.mean(), abs=2e-3)
    assert variance == pytest.approx(max(expected.var(), 1e-3), abs=4e-3)


def test_the_quick_distribution_function_is_as_good_as_its_paper_says() -> None:
    """Against scipy; Bowling et al. (2009) state a largest error of 1.4e-4."""
    x = np.linspace(-8.0, 8.0, 4001)
    assert np.abs(normal_cdf(x) - norm.cdf(x)).max() < 1.5e-4


def test_one_report_moves_the_belief_as_sampling_says() -> None:
    """A sample of 400,000 cars from the prior, kept where balance + report noise lies in the interval."""
    rng = np.random.default_rng(5)
    cars = multivariate_normal(UNKNOWN.mean, UNKNOWN.cov).rvs(400_000, random_state=rng)
    report = cars[:, CENTRE] + rng.normal(0.0, NOISE, len(cars))
    kept = cars[(report > 0.6) & (report < 1.6)]

    belief = heard(UNKNOWN, [Heard((CENTRE,), 0.6, 1.6)])

    assert belief.mean == pytest.approx(kept.mean(axis=0), abs=0.02)
    assert np.sqrt(np.diag(belief.cov)) == pytest.approx(kept.std(axis=0), abs=0.02)


def test_making_a_change_moves_the_balance_by_its_step_and_adds_its_doubt() -> None:
    """Mean: 2 clicks of 0.5; variance by hand: 1.2**2 + (2 * 0.5 * 0.4)**2."""
    belief = carried(UNKNOWN, [replace(CROSS, clicks=2.0)])
    mean, sd = balance_now(belief)["balance/centre/half"]
    assert mean == pytest.approx(1.0)
    assert sd**2 == pytest.approx(1.2**2 + 0.4**2)


def test_a_change_made_and_taken_back_leaves_the_balance_as_it_was() -> None:
    belief = carried(carried(UNKNOWN, [CROSS]), [replace(CROSS, clicks=-1.0)])
    assert belief.mean[:15] == pytest.approx(UNKNOWN.mean)
    assert belief.cov[:15, :15] == pytest.approx(UNKNOWN.cov)


def _gain(belief: Knowledge, group: str) -> float:
    return next(g.mean for g in gains(belief) if g.group == group)


def _after(complaint: str, report: str, verdicts: dict[str, str]) -> Knowledge:
    """Belief after a complaint, one click of cross out (-0.5 everywhere), and a report."""
    first = read(complaint)
    intervals, stages = listen(first.live(), (), {}, first.good, "half")
    belief = carried(heard(UNKNOWN, intervals, stages), [replace(CROSS, clicks=-1.0)])
    second = read(report)
    intervals, stages = listen(second.live(), first.live(), verdicts, second.good, "half")
    return heard(belief, intervals, stages)


def test_no_change_teaches_that_the_lever_is_weak_and_a_cure_that_it_works() -> None:
    weak = _after("tight in the middle", "tight in the middle", {"centre": "no-change"})
    cured = _after("tight in the middle", "good", {"centre": "fixed"})
    assert _gain(weak, "centre") < 0.7 < _gain(cured, "centre")


def test_a_lever_that_turned_the_car_round_is_stronger_than_thought() -> None:
    turned = _after("a little tight in the middle", "loose in the middle", {"centre": "too-far"})
    assert _gain(turned, "centre") > 1.2


def test_silence_teaches() -> None:
    """Not complained of any more: the balance there is near the driver's liking, and surer than before."""
    first = read("tight in the middle")
    intervals, stages = listen(first.live(), (), {}, (), "half")
    belief = heard(UNKNOWN, intervals, stages)
    mean, sd = balance_now(belief)["balance/entry-braking/half"]
    assert abs(mean) < 0.45 and sd < 0.4 < balance_now(UNKNOWN)["balance/entry-braking/half"][1]
    assert balance_now(belief)["balance/centre/half"][0] > 0.5


@pytest.mark.parametrize(
    ("words", "low", "high"),
    [
        ("a little loose in the middle", -0.85, -0.42),
        ("tight in the middle", 0.6, 1.6),
        ("very tight in the middle", 1.3, 5.0),
    ],
)
def test_severity_words_bound_the_balance(words: str, low: float, high: float) -> None:
    intervals, _ = listen(read(words).live(), (), {}, (), "half")
    assert Heard((CENTRE,), low, high) in intervals


def test_the_run_stage_a_driver_names_is_the_one_that_counts() -> None:
    intervals, stages = listen(read("tight in the middle late in the run").live(), (), {}, (), "half")
    assert stages == {"late"}
    late = BALANCE.index("balance/centre/late")
    assert [h.channels for h in intervals if h.low > 0] == [(late,)]


def test_learned_gains_scale_the_response_and_only_of_moves_that_were_made(response: Response) -> None:
    row = next(i for i, m in enumerate(response.moves) if m.key == "cross_weight")
    belief = carried(UNKNOWN, pushes_of(response, [("cross_weight", -1)]))
    belief = heard(belief, [Heard((CENTRE,), -0.25, 0.25, change=True)])
    learned = applied(belief, response)
    gain = learned.gain[row, CENTRE]
    assert 0.0 < gain < 0.9
    assert learned.step[row, CENTRE] == pytest.approx(gain * response.step[row, CENTRE])
    assert learned.step[row, 15:] == pytest.approx(response.step[row, 15:])
    agreed = np.abs(response.model[:, :15] - response.step[:, :15]).max(axis=1) < 1e-9
    others = [i for i in range(len(response.moves)) if i != row and agreed[i]]
    assert others and np.array_equal(learned.step[others], response.step[others])


def test_a_car_that_goes_by_the_model_is_taken_by_the_model_elsewhere_too(response: Response) -> None:
    """A lever whose model says more than the rule drew it to, and did as the model says: another such lever,
    never moved, is then thought nearer to the model than before; one that did as the rule says, further."""
    row, other = (next(i for i, m in enumerate(response.moves) if m.key == k) for k in ("spoiler", "stagger"))
    braking = ENTRY
    (push,) = pushes_of(response, [("spoiler", 2)])
    sure = heard(UNKNOWN, [Heard((c,), -0.05, 0.05) for c in range(5, 10)] * 4)
    moved = carried(sure, [push])
    felt = {True: 2 * response.model[row, 5:10], False: 2 * response.rule[row, 5:10]}
    gap = response.model[other, braking] - response.step[other, braking]
    for by_model, change in felt.items():
        belief = heard(
            moved, [Heard((5 + p,), float(x) - 0.05, float(x) + 0.05) for p, x in enumerate(change)]
        )
        drawn = (applied(belief, response).step[other, braking] - response.step[other, braking]) / gap
        assert (drawn > 0.1) if by_model else (drawn < 0.1)


def test_pushes_are_the_plain_response_whatever_was_learned(response: Response) -> None:
    plan = [("cross_weight", -1)]
    plain = pushes_of(response, plan)
    belief = heard(carried(UNKNOWN, plain), [Heard((CENTRE,), -0.1, 0.1, change=True)])
    again = pushes_of(applied(belief, response), plan)
    assert again[0].step == pytest.approx(plain[0].step, abs=2e-5)


def test_the_belief_stays_sound_over_many_contradicting_reports() -> None:
    belief = UNKNOWN
    for turn in range(60):
        belief = carried(drifted(belief), [replace(CROSS, clicks=1.0 if turn % 3 else -2.0)])
        sign = 1.0 if turn % 2 else -1.0
        low, high = sorted((sign * 1.3, sign * 4.0))
        belief = heard(belief, [Heard((c,), low, high) for c in range(5, 10)])
    assert np.isfinite(belief.mean).all() and np.isfinite(belief.cov).all()
    assert np.linalg.eigvalsh(belief.cov).min() > -1e-9
    assert np.abs(belief.mean[:15]).max() < 6.0


def test_the_same_reports_give_the_same_belief() -> None:
    one, two = (_after("tight in the middle", "tight off", {"centre": "quiet"}) for _ in range(2))
    assert np.array_equal(one.mean, two.mean) and np.array_equal(one.cov, two.cov)


def test_a_lever_on_which_model_and_rule_disagree_is_doubted_more() -> None:
    """Whichever of the two is right must be within two deviations of what is expected of a fresh lever: else
    it is hardly ever learned (three-sigma surprises barely move a normal belief)."""
    plain, model, sd = np.full(15, 0.2), np.full(15, 0.8), np.full(15, 0.05)
    agreed = doubt(plain, spread_of(plain, sd, plain))
    apart = doubt(plain, spread_of(plain, sd, model))
    assert max(agreed) < min(apart)
    assert all(2.0 * np.hypot(share * 0.2, LEAN_SD * (0.8 - 0.2)) >= 0.8 - 0.2 for share in apart)


def test_what_is_thought_of_a_lever_never_tried_is_not_said_to_have_been_seen() -> None:
    """A car known to go by the model: a lever it never moved is told as not tried, with its number."""
    car, track = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
    sure = np.eye(20) * 0.01
    known = Knowledge(
        np.concatenate([np.zeros(15), np.ones(5)]), sure, (SOURCE,), reports=1, stages=frozenset({"half"})
    )
    reading = read("tight under braking, loose in the middle, tight off at half fuel")
    verdict = advise(reading, car, track, car.base_setup(), knowledge=known)
    plans = [plan for plan in (verdict.plan, *verdict.alternatives) if plan]
    facts = [fact for plan in plans for change in plan.changes for fact in change.reasons]
    kinds = {fact.kind for fact in facts}
    assert "sure-leaning" in kinds and "sure-learned" not in kinds
    told = next(fact for fact in facts if fact.kind == "sure-leaning")
    assert say(told, car).startswith("Not tried here yet; by how this car answered the other changes, ")


def test_the_source_a_car_goes_by_is_shown_with_what_was_learned() -> None:
    car = shipped_cars()[DEFAULT_CAR]
    mean, cov = np.concatenate([np.zeros(15), np.ones(5)]), np.eye(20) * 0.01
    belief = Knowledge(mean, cov, (SOURCE,), reports=2)
    said = "Where model and rule of thumb differ, this car goes rather by the {}."
    assert said.format("model") in learned(SessionState(knowledge=belief), car)
    by_rule = replace(belief, mean=np.concatenate([np.zeros(15), -np.ones(5)]))
    assert said.format("rule of thumb") in learned(SessionState(knowledge=by_rule), car)
    unsure = replace(belief, cov=np.eye(20) * 9.0)
    assert not any("differ" in line for line in learned(SessionState(knowledge=unsure), car))
