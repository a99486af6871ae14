"""How long the model takes: pace, one prediction, a full response. Prints p50 and p95 in ms; never a test.

`python benchmarks/response.py [RUNS]`. Goal: a full response of 30 settings under 3 ms."""

import sys
import time
from collections.abc import Callable
from functools import partial

from engine.model import find_pace, predict
from engine.sensitivity import respond
from engine.sheets import DEFAULT_CAR, DEFAULT_TRACK, shipped_cars, shipped_tracks


def measure(label: str, work: Callable[[], object], runs: int) -> None:
    """Print how long one call of `work` takes, by the wall and by the processor."""
    wall, busy = [], []
    for _ in range(runs):
        start, cpu = time.perf_counter(), time.process_time()
        work()
        wall.append(1e3 * (time.perf_counter() - start))
        busy.append(1e3 * (time.process_time() - cpu))
    parts = [f"{sorted(times)[int(q * runs)]:6.2f}" for times in (wall, busy) for q in (0.5, 0.95)]
    sys.stdout.write(
        f"{label:44s} wall p50 {parts[0]} p95 {parts[1]}   cpu p50 {parts[2]} p95 {parts[3]} ms\n"
    )


def main(runs: int) -> None:
    """The default car as it is, and with its first 30 settings; the pace solved each time or once before."""
    car, track = shipped_cars()[DEFAULT_CAR], shipped_tracks()[DEFAULT_TRACK]
    thirty = car.model_copy(update={"settings": car.settings[:30], "moves": car.moves[:30]})
    thirty.__dict__.pop("by_key", None)
    pace = find_pace(car, track)
    setup = car.base_setup()
    measure("pace", lambda: find_pace(car, track), runs)
    measure("one prediction at a known pace", lambda: predict(car, track, setup, pace), runs)
    for name, some in ((f"{len(car.settings)} settings", car), ("30 settings", thirty)):
        small = some.base_setup()
        own = find_pace(some, track)
        measure(f"response, {name}, at a known pace", partial(respond, some, track, small, pace=own), runs)
        measure(f"response, {name}, pace solved too", partial(respond, some, track, small), runs)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
