"""How long the chat takes to be ready to type: from starting the process to the prompt on a real terminal.

    python benchmarks/cold_start.py [RUNS]

Also: until what is typed at once has its reading under the prompt, and one whole answer of the command line.
The prompt needs a pseudo-terminal, which Windows does not have: only the answer is measured there.
Prints p50 and p95 in ms; the goal for the prompt is 600 ms. On Linux also the processor time until then: on a
busy machine the better figure.
"""

import os
import select
import statistics
import subprocess
import sys
import tempfile
import time
from math import isnan
from pathlib import Path

ROOT = Path(__file__).parent.parent
PROMPT, READING, PATIENCE = b"\x1b[0m>", b"loose in", 30.0
TYPED = b"loose in"


def main() -> None:
    """Measure and print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 11
    with tempfile.TemporaryDirectory() as home:
        env = os.environ | {
            "XDG_DATA_HOME": home,
            "TERM": "xterm-256color",
            "COLUMNS": "80",
            "PYTHONPATH": str(ROOT),
        }
        if os.name == "nt":
            print("the prompt is not measured: this system has no pseudo-terminal")
        else:
            show_prompt(env, runs)
        one_answer(env)
        whole = [one_answer(env) for _ in range(runs)]
    show("one answer, whole process", [waited for waited, _ in whole])
    show("  its processor time", [computed for _, computed in whole])


def show_prompt(env: dict[str, str], runs: int) -> None:
    """Measure and print the way to the prompt."""
    first = prompt_ready(env)
    both = [prompt_ready(env) for _ in range(runs)]
    print(f"first start (bytecode and file cache as found): {1000 * first[0]:.0f} ms")
    show("prompt ready", [ready for ready, _, _ in both])
    show("  its processor time", [computed for _, _, computed in both])
    show("first reading under the prompt", [read for _, read, _ in both])


def show(what: str, seconds: list[float]) -> None:
    """One line: p50, p95; nothing where the system does not say."""
    if any(map(isnan, seconds)):
        return
    ordered = sorted(1000 * s for s in seconds)
    p95 = ordered[min(len(ordered) - 1, round(0.95 * (len(ordered) - 1)))]
    print(f"{what:<32} p50 {statistics.median(ordered):6.0f} ms   p95 {p95:6.0f} ms   ({len(ordered)} runs)")


def prompt_ready(env: dict[str, str]) -> tuple[float, float, float]:
    """Seconds to the prompt, to the live reading of a complaint typed at once; of processor to the prompt."""
    import pty  # not there on Windows

    mine, theirs = pty.openpty()
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "cli"],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env=env,
        cwd="/",
        close_fds=True,
    )
    os.close(theirs)
    try:
        wait_for(mine, PROMPT)
        ready, computed = time.perf_counter() - begun, computed_by(process.pid)
        os.write(mine, TYPED)
        wait_for(mine, READING, times=2)  # once as typed, once as understood
        return ready, time.perf_counter() - begun, computed
    finally:
        process.kill()
        process.wait()
        os.close(mine)


def wait_for(terminal: int, wanted: bytes, times: int = 1) -> None:
    """Read until `wanted` has been written `times` times; answers the terminal's question for the cursor."""
    seen, end = b"", time.perf_counter() + PATIENCE
    while seen.count(wanted) < times:
        if time.perf_counter() > end:
            raise SystemExit(f"waited {PATIENCE:g} s for {wanted!r}, saw {seen[-400:]!r}")
        if select.select([terminal], [], [], 0.5)[0]:
            chunk = os.read(terminal, 65536)
            if b"\x1b[6n" in chunk:
                os.write(terminal, b"\x1b[1;1R")
            seen += chunk


def computed_by(process: int) -> float:
    """Seconds of processor a process has taken so far; NaN where the system does not say."""
    try:
        return int(Path(f"/proc/{process}/schedstat").read_text().split()[0]) / 1e9
    except OSError:
        return float("nan")


def one_answer(env: dict[str, str]) -> tuple[float, float]:
    """Seconds, and seconds of processor, for `quarterturn "loose in, tight off at half fuel"`."""
    begun, before = time.perf_counter(), os.times()
    subprocess.run(
        [sys.executable, "-m", "cli", "loose in, tight off at half fuel"],
        env=env,
        cwd="/",
        check=True,
        capture_output=True,
    )
    after = os.times()
    computed = after.children_user + after.children_system - before.children_user - before.children_system
    return time.perf_counter() - begun, computed if os.name != "nt" else float("nan")


if __name__ == "__main__":
    main()
