"""How long the search for the fewest changes takes, beside a general solver on the same problems.

python benchmarks/plan.py [--problems N] [--items I] [--channels C] [--solver N]

Own search: time and options looked at for the three best plans, p50 and p95 over N seeded problems. CP-SAT
(ortools, one worker, in lexicographic stages): the same plans on the first `--solver` of them, and whether
shortfall, moves and cost agree. Prints only; nothing passes or fails by time.
"""

import argparse
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))
sys.path.insert(0, str(Path(__file__).parent.parent / "tests"))

from exhaustive import Judge
from general_solver import least
from random_problems import make_problem

from engine.conflicts import clash
from engine.problem import Problem, Solution
from engine.search import solve

PLANS = 3
T = TypeVar("T")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description="own search beside CP-SAT")
    parser.add_argument("--problems", type=int, default=100)
    parser.add_argument("--items", type=int, default=40)
    parser.add_argument("--channels", type=int, default=24)
    parser.add_argument("--clicks", type=int, default=4)
    parser.add_argument("--solver", type=int, default=8)
    args = parser.parse_args()
    problems = [
        make_problem(s, args.items, args.channels, args.clicks, 1 + s % 3) for s in range(args.problems)
    ]
    solve(problems[0])

    own = [timed(lambda p=p: solve(p, PLANS)) for p in problems]
    solutions = [solution for _, solution in own]
    print(f"{args.problems} problems, {args.items} items, {args.channels} channels, up to {PLANS} plans")
    show_times("own search", own)
    show("options looked at", [solution.nodes for solution in solutions])
    print(f"complete {sum(s.complete for s in solutions)}, full cures {sum(s.cured for s in solutions)}")
    missed = [p for p, s in zip(problems, solutions, strict=True) if not s.cured][:10]
    show_times("clash and repairs", [timed(lambda p=p: clash(p)) for p in missed])

    some = list(zip(problems, solutions, strict=True))[: args.solver]
    general = [timed(lambda p=p, s=s: agrees(p, s)) for p, s in some]
    show_times("CP-SAT", general)
    print(f"agree {sum(same for _, same in general)} of {len(general)}")


def agrees(problem: Problem, solution: Solution) -> bool:
    """Whether CP-SAT finds plans of the same shortfall, moves and cost, one after the other."""
    index = {item.key: i for i, item in enumerate(problem.items)}
    judge, struck = Judge.of(problem), list(problem.forbidden)
    for plan in solution.plans:
        short, moves, cost, _ = judge.score({index[key]: count for key, count in plan.clicks})
        if least(problem, struck) != [*short, moves, cost]:
            return False
        struck.append(plan.keys)
    return True


def timed(work: Callable[[], T]) -> tuple[tuple[float, float], T]:
    """Milliseconds by the wall clock and of the processor, and the result."""
    start = time.perf_counter(), time.process_time()
    result = work()
    return (1e3 * (time.perf_counter() - start[0]), 1e3 * (time.process_time() - start[1])), result


def show_times(name: str, runs: Sequence[tuple[tuple[float, float], object]]) -> None:
    """Two lines; on a shared machine the processor's time is what the work itself takes."""
    show(f"{name}, wall ms", [wall for (wall, _), _ in runs])
    show(f"{name}, CPU ms", [cpu for (_, cpu), _ in runs])


def show(name: str, values: list[float]) -> None:
    """One line: p50, p95, most."""
    middle, high, most = np.percentile(values, [50, 95, 100])
    print(f"{name:27}  p50 {middle:10.1f}  p95 {high:10.1f}  max {most:10.1f}")


if __name__ == "__main__":
    main()
