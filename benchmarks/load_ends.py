"""The two ends of the load benchmark: a server in a process of its own, and connections that keep asking."""

import asyncio
import json
import os
import re
import socket
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parent.parent
PINS = hasattr(os, "sched_setaffinity") and (os.cpu_count() or 1) > 1
"""Whether this system lets a process be kept on one core (Linux does; Windows and macOS do not)."""


def pin(core: int) -> None:
    """Keep this process on one core, where that can be done."""
    if PINS:
        os.sched_setaffinity(0, {core})


class Started:
    """A server process on core 0 where the system can pin; `port` is where it listens."""

    def __init__(self, command: list[str], environment: dict[str, str], records: Path) -> None:
        self.records = records
        self.process = subprocess.Popen(
            command, cwd=ROOT, env={**os.environ, **environment}, stdout=subprocess.PIPE,
            stderr=records.open("wb"), preexec_fn=(lambda: pin(0)) if PINS else None, text=True,
        )  # fmt: skip
        assert self.process.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:(\d+)", self.process.stdout.readline())
        assert found, "the server did not start"
        self.port = int(found[1])
        self._wait()

    def _wait(self) -> None:
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

    def computed(self) -> float:
        """Processor time the server has taken so far, s; NaN where the system does not say."""
        try:
            fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        except OSError:
            return float("nan")
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def failure(self) -> str:
        """The first defect the server recorded."""
        lines = self.records.read_text(encoding="utf-8", errors="replace").splitlines()
        return next((line for line in lines if '"failure"' in line), "nothing recorded")

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


async def probe(port: int, requests: Iterator[bytes], seconds: float) -> list[float]:
    """Seconds until one more client, on a new connection each time, has its answer; twenty times a second."""
    times = []
    until = time.perf_counter() + seconds
    while time.perf_counter() < until:
        begun = time.perf_counter()
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(next(requests).replace(b"\r\n\r\n", b"\r\nConnection: close\r\n\r\n", 1))
        await reader.read()
        writer.close()
        times.append(time.perf_counter() - begun)
        await asyncio.sleep(0.05)
    return times


def post(port: int, path: str, body: dict[str, object]) -> bytes:
    """The bytes of one POST."""
    sent = json.dumps(body).encode()
    head = f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Type: application/json\r\n"
    return f"{head}Content-Length: {len(sent)}\r\n\r\n".encode() + sent


def get(port: int, path: str) -> bytes:
    """The bytes of one GET."""
    return f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()
