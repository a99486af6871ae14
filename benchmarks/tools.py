"""How long the builder's tools take, and how near they bring the balance.

python benchmarks/tools.py [--pairs N]

Start: every demo car at every demo track. Package and carry-over: N seeded set-ups each. Compare: N random
pairs. Prints p50 and p95 in ms and, for the first three, how many are within their bands at half fuel and
over the whole run, and the largest miss. Prints only; nothing passes or fails by time.
"""

import argparse
import random
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from engine.car import Car, Setup
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, at_track, shipped_cars, shipped_tracks
from engine.tools.carrying import carry_over
from engine.tools.compare import Comparison, compare
from engine.tools.holding import Held
from engine.tools.package import package
from engine.tools.starting import start

T = TypeVar("T")
CARS, TRACKS = shipped_cars(), shipped_tracks()
TRACK = TRACKS[DEFAULT_TRACK]
CAR = at_track(CARS[DEFAULT_CAR], TRACK)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="the builder's tools")
    parser.add_argument("--pairs", type=int, default=100)
    pairs = range(parser.parse_args().pairs)
    start(CAR, TRACK)

    held("start", [timed(_start(c, t)) for c in sorted(CARS) for t in sorted(TRACKS)])
    held("package", [timed(_package(seed)) for seed in pairs])
    held("carry-over", [timed(_carry(seed)) for seed in pairs])
    found = [timed(_compare(seed)) for seed in pairs]
    least = min(comparison.explained for _, comparison in found)
    print(f"compare     {_times([t for t, _ in found])}; explained at least {100 * least:.1f} %")


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """Milliseconds of wall clock, and what came out."""
    began = time.perf_counter()
    made = work()
    return 1000 * (time.perf_counter() - began), made


def held(name: str, found: Sequence[tuple[float, Held]]) -> None:
    """One line on tools that bring the balance somewhere."""
    results = [h for _, h in found]
    half = [max((abs(v) for c, v in h.off if c.endswith("/half")), default=0.0) for h in results]
    over = [max((abs(v) for _, v in h.off), default=0.0) for h in results]
    print(
        f"{name:11} {_times([t for t, _ in found])}; in band at half fuel {half.count(0.0)}, over the run "
        f"{over.count(0.0)} of {len(results)}; furthest from the goal {max(half):.1f} at half fuel, "
        f"{max(over):.1f} over the run (feel); lists proved shortest {sum(h.proved for h in results)}"
    )


def _times(times: Sequence[float]) -> str:
    p50, p95 = np.percentile(times, (50, 95))
    return f"{p50:6.0f} / {p95:6.0f} ms, most {max(times):6.0f}"


def _start(car: str, track: str) -> Callable[[], Held]:
    return lambda: start(at_track(CARS[car], TRACKS[track]), TRACKS[track])


def _shuffled(car: Car, dice: random.Random, count: int, most: int) -> Setup:
    """The base set-up with `count` settings up to `most` clicks away."""
    setup = car.base_setup()
    for setting in dice.sample([s for s in car.settings if s.key != "fuel"], count):
        click = setting.click_of(setting.base) + dice.randint(-most, most)
        setup[setting.key] = setting.value_at(max(0, min(setting.last, click)))
    return setup


def _package(seed: int) -> Callable[[], Held]:
    dice = random.Random(seed)
    setup, bar = _shuffled(CAR, dice, 4, 2), CAR.setting("front_bar")
    click = max(0, min(bar.last, bar.click_of(setup["front_bar"]) + dice.choice((-2, -1, 1, 2))))
    return lambda: package(CAR, TRACK, setup, {"front_bar": bar.value_at(click)})


def _carry(seed: int) -> Callable[[], Held]:
    dice = random.Random(seed)
    first, second = dice.sample(sorted(CARS), 2)
    track = TRACKS[("stonecup", "millpond", "longmeadow")[seed % 3]]
    a, b = at_track(CARS[first], track), at_track(CARS[second], track)
    return lambda: carry_over(a, _shuffled(a, dice, 4, 2), b, track).held


def _compare(seed: int) -> Callable[[], Comparison]:
    dice = random.Random(seed)
    a, b = _shuffled(CAR, dice, 8, 6), _shuffled(CAR, dice, 8, 6)
    return lambda: compare(CAR, TRACK, a, b)


if __name__ == "__main__":
    main()
