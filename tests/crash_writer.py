"""Writers that are killed in mid-write: `crash_writer.py DB KILLS SEED` prints what was acknowledged (JSON).

Each round two processes open the logbook and append turns of two events as fast as they can; each
acknowledged turn is told through a pipe. Then both are killed with SIGKILL at a random moment. A process of
its own, so that it can fork safely.
"""

import json
import os
import random
import signal
import sys
import time

from service.logbook import Logbook


def write_for_ever(path: str, name: str, out: int) -> None:
    """Append turns and tell each one once it is acknowledged."""
    logbook = Logbook(path)
    count = 0
    while True:
        text = f"{name}/{count} " + "x" * (count % 7 * 300)
        logbook.append_all(name, [("said", {"text": text}), ("advised", {"for": text})])
        os.write(out, f"{count}\n".encode())
        count += 1


def start(path: str, name: str) -> tuple[int, int]:
    """A writer in a child process: its id and the pipe it tells on."""
    back, out = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(back)
        try:
            write_for_ever(path, name, out)
        finally:
            os._exit(3)
    os.close(out)
    return child, back


def wait_for(back: int, turns: int) -> bytes:
    """Wait until so many turns were acknowledged; what was told so far."""
    heard = b""
    while heard.count(b"\n") < turns:
        more = os.read(back, 4096)
        if not more:
            raise SystemExit("a writer ended by itself")
        heard += more
    return heard


def told(back: int, heard: bytes) -> int:
    """How many turns were acknowledged in all."""
    with os.fdopen(back, "rb") as pipe:
        whole = [line for line in (heard + pipe.read()).split(b"\n") if line]
    return int(whole[-1]) + 1 if whole else 0


def main(path: str, kills: int, seed: int) -> None:
    """Kill pairs of writers until `kills` have died: some while they open the file, most while they write."""
    rng = random.Random(seed)
    acknowledged = {}
    for turn in range(kills // 2):
        writers = {name: start(path, name) for name in (f"a{turn}", f"b{turn}")}
        heard = dict.fromkeys(writers, b"")
        if turn % 4:
            heard[f"a{turn}"] = wait_for(writers[f"a{turn}"][1], rng.randint(1, 4))
        time.sleep(rng.uniform(0.0, 0.02))
        for child, _ in writers.values():
            os.kill(child, signal.SIGKILL)
        for name, (child, back) in writers.items():
            status = os.waitpid(child, 0)[1]
            if not os.WIFSIGNALED(status):
                raise SystemExit(f"writer {name} ended by itself with {status}")
            acknowledged[name] = told(back, heard[name])
    json.dump(acknowledged, sys.stdout)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
