"""Does it cure the car? A driver whose car answers differently from our model talks to the whole program.

    python benchmarks/closed_loop.py [--trials 300] [--rounds 6] [--jobs 2] [--seed 1] [--ideal track]
        [--truth model]

One trial: a car sheet at a track; the driver's ideal is its base set-up there (`--ideal track`, what the
program itself starts from), or the sheet's own base set-up wherever it is driven (`--ideal sheet`: at most
tracks a set-up made for another one, tyres far from what they like, some levers several times as strong as
usual). The true car goes by the model alone (`--truth model`), or by model and rules of thumb as our
response weighs them (`--truth response`). One to three hidden shifts (a move by one to its full round of
clicks, either way) knock the car away from it until he complains. The TRUE car: each setting's effect on
each phase is that (exact difference at the set-up as it stands) times a factor drawn once per car, per
setting and per phase, lognormal with sigma 0.4 around a median of 1; 5 % of the settings are dead (factor 0
everywhere). The driver has a threshold of 0.40 to 0.50 feel, drawn apart for tight and for loose, and
reports with noise 0.15 in varied words. Each round he types his report into the session (grammar reader,
learning, planner, sheet limits: all real) and drives the list that comes back. Cured by round n: after at
most n lists he has nothing to complain of.

Lines printed: learning on; learning off (same road, nothing carried over but the no-undo history); handbook
(one strongest lever for the earliest complaint, one usual step, our response); oracle (knows balance and true
response, same planner); and a car without any difference, learning on.
"""

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from driver import Array, Driver

from engine.adviser import advise
from engine.car import Car, Setup
from engine.channels import BALANCE
from engine.learning import Knowledge
from engine.model import channels
from engine.sensitivity import respond
from engine.track import Track
from grammar.reader import read
from service.conversation import converse
from service.library import Library
from service.logbook import Logbook
from service.state import current

HALF = slice(5, 10)
MODES = ("learning on", "learning off", "handbook", "oracle")
NEVER = 99
KNOCK_LEAST, KNOCK_MOST = 0.6, 3.0
"""The worst phase after the knock, feel: a clear complaint, and still a car one can drive."""


@dataclass
class TrueCar:
    """The car as it is: what a change of set-up does to the balance at half fuel."""

    car: Car
    track: Track
    factors: dict[str, Array]
    ruled: bool = False
    """Whether it goes by the rules of thumb too, as the response weighs them."""

    def moved(self, before: Setup, after: Setup) -> Array:
        """Change of the five balances, feel."""
        keys = [k for k in before if after[k] != before[k]]
        if not keys:
            return np.zeros(5)
        single = [{**before, k: after[k]} for k in keys]
        values = self.balances([before, *single, after])
        alone = values[1:-1] - values[0]
        together = values[-1] - values[0] - alone.sum(axis=0)
        if self.ruled:
            alone += self._by_rules(before, after, keys)
        own = np.array([self.factors[k] * row for k, row in zip(keys, alone, strict=True)])
        total: Array = together + own.sum(axis=0)
        return total

    def _by_rules(self, before: Setup, after: Setup, keys: list[str]) -> Array:
        """What the rules of thumb add to the model's answer [settings, 5]."""
        response = respond(self.car, self.track, before)
        found = []
        for key in keys:
            row, each = response.singles[key]
            setting = self.car.setting(key)
            clicks = (setting.click_of(after[key]) - setting.click_of(before[key])) / each
            found.append(clicks * (response.step[row, HALF] - response.model[row, HALF]))
        return np.array(found)

    def balances(self, setups: list[Setup]) -> Array:
        """The model's balance at half fuel [n, 5]."""
        rows = np.array([[s[x.key] for x in self.car.settings] for s in setups])
        values: Array = channels(self.car, self.track, rows)[:, HALF]
        return values


@dataclass
class Trial:
    """One car, knocked."""

    true: TrueCar
    setup: Setup
    balance: Array
    driver: Driver
    seed: int


def make_trial(seed: int, car: Car, track: Track, sigma: float, dead: float, ruled: bool = False) -> Trial:
    """A car, its differences, the knock and the driver, all from `seed`."""
    rng = np.random.default_rng(seed)
    factors = {s.key: np.exp(rng.normal(0.0, sigma, 5)) * float(rng.random() >= dead) for s in car.settings}
    true = TrueCar(car, track, factors, ruled)
    driver = Driver(*rng.uniform(0.40, 0.50, 2))
    base = car.base_setup()
    steps = respond(car, track, base).step[:, HALF]
    strong = [
        m for m, row in zip(car.moves, steps, strict=True) if np.abs(row).max() >= 0.1 and usual(m.parts)
    ]
    while True:
        setup = dict(base)
        for index in rng.choice(len(strong), int(rng.integers(1, 4)), replace=False):
            move = strong[int(index)]
            shift(car, setup, move.parts, int(rng.integers(1, move.cap + 1)) * int(rng.choice((-1, 1))))
        balance = true.moved(base, setup)
        if KNOCK_LEAST <= np.abs(balance).max() <= KNOCK_MOST:
            return Trial(true, setup, balance, driver, seed)


def usual(parts: dict[str, int]) -> bool:
    """Levers a crew pulls for balance: not gears, fuel or steering."""
    return not any(k.startswith(("gear", "final", "fuel", "steering")) for k in parts)


def shift(car: Car, setup: Setup, parts: dict[str, int], clicks: int) -> None:
    """Move settings in place, kept within the sheet."""
    for key, each in parts.items():
        setting = car.setting(key)
        click = setting.click_of(setup[key]) + each * clicks
        setup[key] = setting.value_at(max(0, min(setting.last, click)))


def run(mode: str, trial: Trial, library: Library, rounds: int) -> int:
    """Lists it took until the driver was content; NEVER if more than `rounds`."""
    rng = np.random.default_rng((trial.seed, 7))
    setup, balance, before = dict(trial.setup), trial.balance.copy(), None
    book = Logbook(":memory:")
    protected: dict[str, int] = {}
    for number in range(rounds + 1):
        felt = trial.driver.feel(balance, rng)
        if trial.driver.content(felt):
            return number
        if number == rounds:
            break
        text = trial.driver.words(felt, before, rng)
        after = step(mode, trial, library, book, setup, balance, text, first=number == 0)
        trial.true.car.complete(after)  # ValueOutside if any value is outside the sheet
        if mode.startswith("learning"):
            check_no_undo(book, setup, after, protected)
        balance = balance + trial.true.moved(setup, after)
        setup, before = after, felt
    return NEVER


def step(
    mode: str,
    trial: Trial,
    library: Library,
    book: Logbook,
    setup: Setup,
    balance: Array,
    text: str,
    first: bool,
) -> Setup:
    """The set-up after one round's list."""
    car, track = trial.true.car, trial.true.track
    if mode == "handbook":
        return handbook(car, track, setup, text)
    if mode == "oracle":
        return oracle(trial, setup, balance, text)
    given = setup if first else None
    advice = converse(
        book, library, "bench", text, car=car.id, track=track.id, setup=given, alternatives=0,
        learning=mode == "learning on",
    )  # fmt: skip
    return {**setup, **{change.setting: change.to for change in advice.changes}}


def handbook(car: Car, track: Track, setup: Setup, text: str) -> Setup:
    """One strongest lever for the earliest complaint, one usual step (one click of the move)."""
    symptom = next(iter(read(text).live()), None)
    if symptom is None:
        return setup
    response = respond(car, track, setup)
    channel = BALANCE.index(f"balance/{symptom.phases[0]}/half")
    wanted = -1.0 if symptom.direction == "tight" else 1.0
    after = dict(setup)
    order = sorted(range(len(car.moves)), key=lambda i: -abs(response.step[i, channel]))
    for index in order:
        move = car.moves[index]
        if usual(move.parts):
            shift(car, after, move.parts, int(wanted * np.sign(response.step[index, channel])))
            if after != setup:
                return after
    return setup


def oracle(trial: Trial, setup: Setup, balance: Array, text: str) -> Setup:
    """The same planner with the truth in place of belief: balance exact, every gain exact."""
    car, track = trial.true.car, trial.true.track
    verdict = advise(
        read(text), car, track, setup, knowledge=truth(trial.true, setup, balance), alternatives=0
    )
    changes = verdict.plan.changes if verdict.plan else ()
    return {**setup, **{change.setting: change.after for change in changes}}


def truth(true: TrueCar, setup: Setup, balance: Array) -> Knowledge:
    """A belief without doubt: every lever's gain is what makes our response the true one, as far as a gain
    of at most 20 can."""
    response = respond(true.car, true.track, setup)
    levers = tuple(true.factors)
    rows = [next(i for i, m in enumerate(response.moves) if m.parts == {lever: 1}) for lever in levers]
    ours, model = response.step[rows, HALF], response.model[rows, HALF]
    model = ours if true.ruled else model
    share = np.clip(model / np.where(np.abs(ours) > 1e-3, ours, np.inf), 0.0, 20.0)
    gains = np.array([true.factors[lever] for lever in levers]) * share
    mean = np.concatenate([np.tile(balance, 3), gains.ravel()])
    return Knowledge(mean, np.eye(len(mean)) * 1e-6, levers, reports=1, stages=frozenset({"half"}))


def check_no_undo(book: Logbook, before: Setup, after: Setup, protected: dict[str, int]) -> None:
    """No change may go back on one the driver accepted (fixed, better, or not complained of again)."""
    state = current(book, "bench")
    protected.clear()
    for given in state.given:
        for key in given.after:
            sign = int(np.sign(given.after[key] - given.before[key]))
            sizes = given.kept.get("sizes", {}).get(key, {})
            told = [p for s in given.symptoms for p in s.phases if p in given.verdicts]
            if told and sign:
                main = max(told, key=lambda p: sizes.get(p, 0.0))
                if given.verdicts[main] in ("fixed", "better", "quiet"):
                    protected[key] = sign
                elif given.verdicts[main] != "still":
                    protected.pop(key, None)
    for key, sign in protected.items():
        moved = int(np.sign(after[key] - before[key]))
        assert moved in (0, sign), f"{key} was accepted moving {sign} and now moves {moved}"


def one(job: tuple[str, int, float, int, str, str, str, bool]) -> tuple[str, int]:
    """One trial in one mode, in a worker."""
    label, seed, sigma, rounds, car, track, ideal, ruled = job
    library = Library()
    mode = "learning on" if label == "no difference" else label
    dead = 0.05 if sigma else 0.0
    at, where = library.pair(car, track) if ideal == "track" else (library.car(car), library.track(track))
    trial = make_trial(seed, at, where, sigma, dead, ruled)
    return label, run(mode, trial, library, rounds)


def main() -> None:
    """Run and print."""
    options = argparse.ArgumentParser(description="closed-loop cure bench")
    options.add_argument("--trials", type=int, default=300)
    options.add_argument("--rounds", type=int, default=6)
    options.add_argument("--jobs", type=int, default=2)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--car", default="tern-premier")
    options.add_argument("--track", default="stonecup")
    options.add_argument("--ideal", choices=("track", "sheet"), default="track")
    options.add_argument("--truth", choices=("model", "response"), default="model")
    options.add_argument("--only", nargs="*", default=[*MODES, "no difference"])
    asked = options.parse_args()
    begun = time.perf_counter()
    seeds = range(asked.seed * 100_000, asked.seed * 100_000 + asked.trials)
    print(
        f"{asked.trials} trials, {asked.car} at {asked.track}, ideal {asked.ideal}, "
        f"truth {asked.truth}, seed {asked.seed}"
    )
    for label in asked.only:
        sigma = 0.0 if label == "no difference" else 0.4
        ruled = asked.truth == "response"
        jobs = [(label, s, sigma, asked.rounds, asked.car, asked.track, asked.ideal, ruled) for s in seeds]
        with ProcessPoolExecutor(asked.jobs) as pool:
            taken = np.array([n for _, n in pool.map(one, jobs, chunksize=4)])
        cured = "  ".join(f"round {n} {100 * np.mean(taken <= n):5.1f} %" for n in range(1, asked.rounds + 1))
        print(f"{label:14s} {cured}   [{time.perf_counter() - begun:.0f} s]", flush=True)


if __name__ == "__main__":
    main()
