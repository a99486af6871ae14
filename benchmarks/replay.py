"""How fast a log is replayed: complaints a second, per process and with several.

    python benchmarks/replay.py [--complaints 10000] [--jobs 2]

The log is made here: sessions of four turns with varied words, recorded first (not timed), then replayed.
"""

import argparse
import json
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from driver import Driver

from service.conversation import converse
from service.export import complaint_lines
from service.library import Library
from service.logbook import Logbook
from service.replay import replay


def record(sessions: int) -> list[str]:
    """Lines of some sessions, four complaints each."""
    library, rng, driver = Library(), np.random.default_rng(11), Driver(0.45, 0.45)
    lines: list[str] = []
    for number in range(sessions):
        book = Logbook(":memory:")
        for _ in range(4):
            felt = rng.normal(0.0, 0.9, 5)
            felt[int(rng.integers(5))] = 1.0
            converse(book, library, f"s{number}", driver.words(felt, None, rng), alternatives=0)
        lines += complaint_lines(book, f"s{number}")
    return lines


def main() -> None:
    """Record a little, copy it to the length asked for, replay."""
    options = argparse.ArgumentParser(description="replay bench")
    options.add_argument("--complaints", type=int, default=10_000)
    options.add_argument("--jobs", type=int, default=2)
    options.add_argument("--recorded", type=int, default=100, help="sessions recorded; the rest are copies")
    asked = options.parse_args()
    own = record(min(asked.recorded, -(-asked.complaints // 4)))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.jsonl"
        with open(path, "w", encoding="utf-8") as out:
            for number in range(asked.complaints):
                line = json.loads(own[number % len(own)])
                line["session"] += f"-{number // len(own)}"
                out.write(json.dumps(line) + "\n")
        print(f"{asked.complaints} complaints, {path.stat().st_size / 1e6:.1f} MB, {asked.jobs} processes")
        begun = time.perf_counter()
        report = replay([path], jobs=asked.jobs, progress=_show)
        seconds = time.perf_counter() - begun
    rate = len(report.cases) / seconds
    print(f"{seconds:.1f} s: {rate:.0f} complaints a second, {rate / asked.jobs:.0f} per process")
    print(", ".join(f"{report.count(v)} {v}" for v in ("same", "changed", "new", "error")))


def _show(done: int, total: int) -> None:
    if done % max(1, total // 10) < 4:
        print(f"{done} of {total}", file=sys.stderr)


if __name__ == "__main__":
    main()
