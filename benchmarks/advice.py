"""Phrase → plan with two alternatives and reasons, in-process, on the demo cars: `python
benchmarks/advice.py`.

Prints p50 and p95 of wall time and of CPU time, ms: on a shared machine the CPU time is what the work
itself takes. Three kinds, never mixed: nothing remembered; the set-up met before, the plan made anew; the
meaning met before, where nothing is solved and only the text is read.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from engine.memo import forget_all, forget_plans
from service.answering import answer
from service.contract import AdviceRequest
from service.library import Library

PHRASES = (
    "loose in, tight off at half fuel",
    "loose in",
    "tight off",
    "a little tight everywhere",
    "loose everywhere",
    "tight in the middle",
    "loose on the brakes",
    "loose off",
    "tight off, not the wedge",
    "tight off, only what we can do on a stop",
    "running hot",
    "spinning the tires off the corner",
    "a touch loose in",
    "loose off late in the run",
    "really tight in the middle",
    "hitting the limiter",
    "put the front bar to 1.5",
    "loose in but good in the middle",
)
ROUNDS = 2
KINDS: tuple[tuple[str, Callable[[], None] | None], ...] = (
    ("nothing remembered", forget_all),
    ("set-up met before", forget_plans),
    ("meaning met before", None),
)
"""What is forgotten before each answer; before the last kind every case is answered once."""


def main() -> None:
    """Answer every phrase on every car and track a few times and print the spread of each kind."""
    library = Library()
    cases = [(p, c, t) for c in library.cars for t in library.tracks for p in PHRASES]
    _all(cases, library)
    settings = {car: len(library.cars[car].settings) for car in library.cars}
    print(f"{ROUNDS * len(cases)} answers, 2 alternatives each; settings by car: {settings}")
    for name, forget in KINDS:
        if forget is None:
            _all(cases, library)
        wall, cpu = [], []
        for phrase, car, track in ROUNDS * cases:
            if forget:
                forget()
            began, used = time.perf_counter(), time.process_time()
            answer(AdviceRequest(text=phrase, car=car, track=track), library)
            wall.append(1e3 * (time.perf_counter() - began))
            cpu.append(1e3 * (time.process_time() - used))
        for clock, times in (("wall", wall), ("CPU", cpu)):
            p50, p95, most = np.percentile(times, [50, 95, 100])
            spread = f"p50 {p50:.1f} ms, p95 {p95:.1f} ms, most {most:.1f} ms, mean {np.mean(times):.1f} ms"
            print(f"{name}, {clock:>4}: {spread}")


def _all(cases: list[tuple[str, str, str]], library: Library) -> None:
    """Every case once, not timed."""
    for phrase, car, track in cases:
        answer(AdviceRequest(text=phrase, car=car, track=track), library)


if __name__ == "__main__":
    main()
