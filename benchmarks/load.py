"""Load on the running service over loopback, beside a bare JSON echo on the same server library, in one run.

    python benchmarks/load.py [--clients 64] [--seconds 8] [--memory 100000]

Server on one core, client on another where there are two. Prints requests a second, p50 / p95 / p99 in ms,
errors, and how long /healthz takes meanwhile; `--memory N` sends N requests more (99 readings to one
answer) and prints the resident size as it goes. Exit code 1 if any failed. The complaints are distinct
texts, which no cache can answer, but for one line that says so: readings of the same 50 texts."""

import argparse
import asyncio
import itertools
import json
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from statistics import quantiles

ROOT = Path(__file__).parent.parent
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


class Started:
    """A server process on core 0; `port` is where it listens."""

    def __init__(self, command: list[str], environment: dict[str, str], records: Path) -> None:
        self.records = records
        pinned = (lambda: os.sched_setaffinity(0, {0})) if hasattr(os, "sched_setaffinity") else None
        self.process = subprocess.Popen(
            command, cwd=ROOT, env={**os.environ, **environment}, stdout=subprocess.PIPE,
            stderr=records.open("wb"), preexec_fn=pinned, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:(\d+)", self.process.stdout.readline())
        assert found, "the server did not start"
        self.port = int(found[1])
        self._wait()

    def _wait(self) -> None:
        import socket

        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            except OSError:
                time.sleep(0.05)

    def resident(self) -> float:
        """Resident size, MB; NaN where the system does not say."""
        try:
            found = re.search(r"VmRSS:\s+(\d+)", Path(f"/proc/{self.process.pid}/status").read_text())
        except OSError:
            return float("nan")
        return int(found[1]) / 1024 if found else float("nan")

    def failure(self) -> str:
        """The first defect the server recorded."""
        lines = self.records.read_text().splitlines()
        return next((line for line in lines if '"what": "failure"' in line), "nothing recorded")

    def stop(self) -> None:
        """End it in order."""
        self.process.terminate()
        self.process.wait(15)


class Client(asyncio.Protocol):
    """One keep-alive connection that sends the next request as soon as the last is answered."""

    def __init__(
        self, requests: Iterator[bytes], until: float, times: list[float], wrong: list[bytes]
    ) -> None:
        self.requests, self.until, self.times, self.wrong = requests, until, times, wrong
        self.received, self.sent = b"", 0.0
        self.done: asyncio.Future[None] = asyncio.get_running_loop().create_future()

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        assert isinstance(transport, asyncio.Transport)
        self.transport = transport
        self.next()

    def next(self) -> None:
        """Send one more, or stop."""
        request = next(self.requests, None) if time.perf_counter() < self.until else None
        if request is None:
            self.done.set_result(None)
            self.transport.close()
            return
        self.sent = time.perf_counter()
        self.transport.write(request)

    def data_received(self, data: bytes) -> None:
        self.received += data
        head, found, body = self.received.partition(b"\r\n\r\n")
        length = re.search(rb"content-length: (\d+)", head)
        if not found or length is None or len(body) < int(length[1]):
            return
        self.times.append(time.perf_counter() - self.sent)
        if not head.startswith((b"HTTP/1.1 200", b"HTTP/1.1 201")):
            self.wrong.append(head[:40] + b" " + body[:200])
        self.received = b""
        self.next()

    def connection_lost(self, error: Exception | None) -> None:
        if not self.done.done():
            self.wrong.append(f"connection lost: {error}".encode())
            self.done.set_result(None)


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


def requests(port: int, path: str, texts: Iterator[str], extra: dict[str, object]) -> Iterator[bytes]:
    """The bytes of each POST."""
    for text in texts:
        body = json.dumps({"text": text, **extra}).encode()
        head = f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Type: application/json\r\n"
        yield f"{head}Content-Length: {len(body)}\r\n\r\n".encode() + body


async def load(
    port: int, stream: Iterator[bytes], clients: int, seconds: float
) -> tuple[list[float], list[bytes]]:
    """Seconds per request and failures, over `seconds` or until the stream ends."""
    times: list[float] = []
    wrong: list[bytes] = []
    until = time.perf_counter() + seconds
    loop = asyncio.get_running_loop()
    made = [
        await loop.create_connection(lambda: Client(stream, until, times, wrong), "127.0.0.1", port)
        for _ in range(clients)
    ]
    await asyncio.gather(*(client.done for _, client in made))
    return times, wrong


async def ping(port: int, seconds: float) -> list[float]:
    """How long /healthz takes, asked twenty times a second on a connection of its own."""
    times = []
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        begun = time.perf_counter()
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(f"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n".encode())
        await reader.read()
        writer.close()
        times.append(time.perf_counter() - begun)
        await asyncio.sleep(0.05)
    return times


def line(name: str, times: list[float], wrong: list[bytes], taken: float) -> str:
    """One line of the report."""
    cuts = quantiles(times, n=100)
    p50, p95, p99 = (1000 * cuts[i] for i in (49, 94, 98))
    rate = len(times) / taken
    took = f"p50 {p50:7.1f}   p95 {p95:7.1f}   p99 {p99:7.1f} ms"
    return f"{name:<22} {rate:8.0f} /s   {took}   {len(wrong)} errors"


async def measure(
    server: Started,
    name: str,
    path: str,
    extra: dict[str, object],
    options: argparse.Namespace,
    texts: Iterator[str] | None = None,
) -> int:
    """Warm up, load, print; the number of failures. `texts` None: all different."""
    stream = requests(server.port, path, texts or complaints(len(name)), extra)
    await load(server.port, itertools.islice(stream, 50), 4, 5.0)
    begun = time.perf_counter()
    (times, wrong), pings = await asyncio.gather(
        load(server.port, stream, options.clients, options.seconds), ping(server.port, options.seconds)
    )
    print(line(name, times, wrong, time.perf_counter() - begun), flush=True)
    if path != "/echo":
        print(line("  meanwhile /healthz", pings, [], options.seconds), flush=True)
    if wrong:
        print("   ", wrong[0], server.failure())
    return len(wrong)


async def remember(server: Started, count: int, clients: int) -> int:
    """Send `count` readings and answers, printing the resident size ten times; the number of failures."""
    texts, failures = complaints(99), 0
    for tenth in range(10):
        for path, share in (("/v1/reading", 0.99), ("/v1/advice", 0.01)):
            part = itertools.islice(requests(server.port, path, texts, {}), round(count / 10 * share))
            failures += len((await load(server.port, part, clients, 600.0))[1])
        print(
            f"after {count * (tenth + 1) // 10:>8} requests   {server.resident():6.1f} MB resident",
            flush=True,
        )
    return failures


def main() -> int:
    """Run all parts."""
    parser = argparse.ArgumentParser(description="load on the service, beside a bare echo")
    parser.add_argument("--clients", type=int, default=64)
    parser.add_argument("--seconds", type=float, default=8.0)
    parser.add_argument("--memory", type=int, default=0)
    options = parser.parse_args()
    if hasattr(os, "sched_setaffinity") and (os.cpu_count() or 1) > 1:
        os.sched_setaffinity(0, {1})
    failures = 0
    with tempfile.TemporaryDirectory() as folder:
        echo = Started([sys.executable, "-c", ECHO, "18433"], {}, Path(folder) / "echo.txt")
        failures += asyncio.run(measure(echo, "bare echo", "/echo", {}, options))
        echo.stop()
        database = {"QUARTERTURN_DB": str(Path(folder) / "logbook.sqlite3"), "QUARTERTURN_PORT": "0"}
        server = Started([sys.executable, "-m", "service"], database, Path(folder) / "records.txt")
        print(f"service at rest: {server.resident():.1f} MB resident")
        failures += asyncio.run(measure(server, "readings", "/v1/reading", {}, options))
        few = itertools.cycle(list(itertools.islice(complaints(5), 50)))
        failures += asyncio.run(measure(server, "readings, same 50", "/v1/reading", {}, options, few))
        failures += asyncio.run(measure(server, "answers, 2 others", "/v1/advice", {}, options))
        failures += asyncio.run(
            measure(server, "answers, 1 plan", "/v1/advice", {"alternatives": 0}, options)
        )
        print(f"service after that: {server.resident():.1f} MB resident")
        if options.memory:
            failures += asyncio.run(remember(server, options.memory, options.clients))
        server.stop()
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
