"""Load on the running service over loopback, beside a bare JSON echo on the same server library, in one run.

    python benchmarks/load.py [--clients 64] [--seconds 8] [--memory 100000] [--only WORD]

Server on one core, client on another, where the system can pin them; the first line says so when it cannot.
Prints requests a second, p50 / p95 / p99 in ms, errors; the server's processor time for each request, and the
rate of one core which that means (on a busy machine the better figure). Then, for half as long again, how
long one more client waits for /healthz and for a reading, on a new connection each time (of the echo: for an
echo). `--memory N` sends N requests more (of a hundred: 89 readings, ten answers to the same 50 texts, one to
a new text) and prints the resident size as it goes. `--only answers` runs the parts whose name has that word.
Exit code 1 if any request failed.

Complaints are distinct texts. Answers come in three kinds: each on a set-up of its own (nothing that is
remembered can help), distinct texts on the sheet's base set-up (many mean the same), and the same 50 texts.
"""

import argparse
import asyncio
import itertools
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import quantiles

sys.path.insert(0, str(Path(__file__).parent.parent))

from benchmarks.load_ends import PINS, Started, get, load, pin, post, probe

ECHO = """
import sys, uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import Route
async def echo(request: Request) -> JSONResponse:
    return JSONResponse(await request.json())
app = Starlette(routes=[Route("/echo", echo, methods=["POST"])])
config = uvicorn.Config(app, port=int(sys.argv[1]), log_level="error")
print(f"echo at http://127.0.0.1:{sys.argv[1]}", flush=True)
uvicorn.Server(config).run()
"""
Bodies = Iterator[dict[str, object]]


def complaints(seed: int) -> Iterator[str]:
    """Endless complaints of one or two clauses; a running number of a lap keeps each text distinct."""
    chance = random.Random(seed)
    words = ("tight", "loose", "pushing", "free", "a little tight", "really loose")
    places = ("in", "off", "in the middle", "on entry", "on exit", "on the brakes", "on the gas")
    stages = ("at half fuel", "on fresh tyres", "late in the run", "on the long run")
    for lap in itertools.count(1):
        first, second = chance.sample(places, 2)
        clause = f"{chance.choice(words)} {first}"
        if chance.random() < 0.5:
            clause += f", {chance.choice(words)} {second}"
        yield f"{clause} {chance.choice(stages)}, lap time {30 + lap % 9000 / 1000:.3f}"


def different(seed: int) -> Bodies:
    """Bodies of distinct texts."""
    return ({"text": text} for text in complaints(seed))


def same(count: int) -> Bodies:
    """The same few bodies again and again."""
    return itertools.cycle(list(itertools.islice(different(5), count)))


def own_setups(seed: int) -> Bodies:
    """Bodies of distinct texts, each on a set-up a few clicks off the sheet's."""
    chance = random.Random(seed)
    for text in complaints(seed):
        setup = {
            "cross_weight": 50.5 + 0.5 * chance.randint(-3, 3),
            "pressure_rf": 36 + 0.5 * chance.randint(-6, 6),
            "pressure_lr": 24 + 0.5 * chance.randint(-6, 6),
            "spring_rr": 250 + 10 * chance.randint(-5, 5),
            "fuel": chance.randint(5, 18),
        }
        yield {"text": text, "setup": setup}


PARTS = {
    "readings, all different": ("/v1/reading", lambda: different(8)),
    "readings, the same 50": ("/v1/reading", lambda: same(50)),
    "answers, own set-ups": ("/v1/advice", lambda: own_setups(16)),
    "answers, all different": ("/v1/advice", lambda: different(16)),
    "answers, the same 50": ("/v1/advice", lambda: same(50)),
    "answers, one plan": ("/v1/advice", lambda: ({**body, "alternatives": 0} for body in own_setups(15))),
}
"""What is measured: name → route and bodies."""


def line(name: str, times: list[float], ending: str = "") -> str:
    """One line of the report."""
    cuts = quantiles(times, n=100)
    p50, p95, p99 = (1000 * cuts[i] for i in (49, 94, 98))
    return f"{name:<34} p50 {p50:7.1f}   p95 {p95:7.1f}   p99 {p99:7.1f} ms{ending}"


async def measure(server: Started, name: str, path: str, bodies: Bodies, options: argparse.Namespace) -> int:
    """Warm up, load, print; the number of failures."""
    stream = (post(server.port, path, body) for body in bodies)
    await load(server.port, itertools.islice(stream, 50), 4, 60.0)  # all of the same 50 were asked once
    more = {
        "/healthz": itertools.repeat(get(server.port, "/healthz")),
        "a reading": (post(server.port, "/v1/reading", body) for body in different(3)),
    }
    if path == "/echo":
        more = {"one more": (post(server.port, path, body) for body in different(3))}
    begun, before = time.perf_counter(), server.computed()
    times, wrong = await load(server.port, stream, options.clients, options.seconds)
    rate = len(times) / (time.perf_counter() - begun)
    each = 1000 * (server.computed() - before) / max(len(times), 1)
    probes = asyncio.gather(*(probe(server.port, asked, options.seconds / 2) for asked in more.values()))
    (_, late), beside = await asyncio.gather(
        load(server.port, stream, options.clients, options.seconds / 2), probes
    )
    wrong += late
    print(line(f"{name:<24} {rate:7.0f} /s", times, f"   {len(wrong)} errors"))
    print(f"  processor time {each:.3f} ms each, so {1000 / each:.0f} /s on a whole core", flush=True)
    for what, waits in zip(more, beside, strict=True):
        print(line(f"  meanwhile {what}", waits), flush=True)
    if wrong:
        print("   ", wrong[0], server.failure())
    return len(wrong)


async def remember(server: Started, count: int, clients: int) -> int:
    """Send `count` readings and answers, printing the resident size ten times; the number of failures."""
    bodies, failures = different(99), 0
    parts = (("/v1/reading", bodies, 0.89), ("/v1/advice", same(50), 0.1), ("/v1/advice", bodies, 0.01))
    for tenth in range(10):
        for path, some, share in parts:
            part = itertools.islice(some, round(count / 10 * share))
            sent = (post(server.port, path, body) for body in part)
            failures += len((await load(server.port, sent, clients, 600.0))[1])
        done = count * (tenth + 1) // 10
        print(f"after {done:>8} requests   {server.resident():6.1f} MB resident", flush=True)
    return failures


def main() -> int:
    """Run all parts."""
    parser = argparse.ArgumentParser(description="load on the service, beside a bare echo")
    parser.add_argument("--clients", type=int, default=64)
    parser.add_argument("--seconds", type=float, default=8.0)
    parser.add_argument("--memory", type=int, default=0)
    parser.add_argument("--only", metavar="WORD", default="")
    options = parser.parse_args()
    pin(1)
    print("server on one core, client on another" if PINS else "not pinned: the server may use any core")
    failures = 0
    with tempfile.TemporaryDirectory() as folder:
        if options.only in "bare echo":
            echo = Started([sys.executable, "-c", ECHO, "18433"], {}, Path(folder) / "echo.txt")
            failures += asyncio.run(measure(echo, "bare echo", "/echo", different(7), options))
            echo.stop()
        database = {"QUARTERTURN_DB": str(Path(folder) / "logbook.sqlite3"), "QUARTERTURN_PORT": "0"}
        server = Started([sys.executable, "-m", "service"], database, Path(folder) / "records.txt")
        print(f"service at rest: {server.resident():.1f} MB resident")
        for name, (path, bodies) in PARTS.items():
            if options.only in name:
                failures += asyncio.run(measure(server, name, path, bodies(), options))
        print(f"service after that: {server.resident():.1f} MB resident")
        if options.memory:
            failures += asyncio.run(remember(server, options.memory, options.clients))
        server.stop()
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
