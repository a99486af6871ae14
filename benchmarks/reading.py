"""Reading time by length of the text: p50 and p95 of many readings, in ms. Run: python -m
benchmarks.reading"""

import time
from collections.abc import Sequence

from grammar.reader import read

SENTENCE = "the car is a little loose getting in and then pretty tight in the center and off late in a run"
LENGTHS = (5, 10, 20, 50, 100, 200)
READINGS = 300


def timed(text: str, times: int) -> Sequence[float]:
    """Seconds of each reading, sorted."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        read(text)
        spent.append(time.perf_counter() - start)
    return sorted(spent)


def main() -> None:
    """Print the first (cold) reading, then a table."""
    start = time.perf_counter()
    read(SENTENCE)
    print(f"first reading, tables loaded: {(time.perf_counter() - start) * 1e3:.0f} ms")
    words = (SENTENCE + ", ") * 12
    print("words   p50 ms   p95 ms   ms per word")
    for length in LENGTHS:
        text = " ".join(words.split()[:length])
        spent = timed(text, READINGS)
        p50, p95 = spent[READINGS // 2] * 1e3, spent[READINGS * 95 // 100] * 1e3
        print(f"{length:5d} {p50:8.2f} {p95:8.2f} {p50 / length:10.4f}")


if __name__ == "__main__":
    main()
