"""What the service writes on stderr: one JSON object per line. Never a complaint, a token or a query."""

import json
import logging
import sys
import time
import traceback
from typing import IO, Any

from starlette.types import Scope

_encode = json.JSONEncoder(check_circular=False).encode  # one encoder: json.dumps makes one per call


class Records:
    """Where the lines go. `on` False keeps the line per request away; failures are always written."""

    def __init__(self, on: bool = True, stream: IO[str] | None = None) -> None:
        self.on, self.stream = on, stream or sys.stderr

    def write(self, level: str, what: str, **facts: Any) -> None:
        """One line: time (Unix s), level, what, then the facts. A closed stderr loses only the line."""
        line = {"time": round(time.time(), 3), "level": level, "what": what, **facts}
        try:
            self.stream.write(_encode(line) + "\n")
            self.stream.flush()
        except (OSError, ValueError):
            pass

    def request(self, scope: Scope, status: int, seconds: float) -> None:
        """One request answered (`status` 0: the client left first)."""
        if self.on:
            client = (scope.get("client") or ("unknown", 0))[0]
            self.write(
                "info",
                "request",
                method=scope["method"],
                path=scope["path"][:200],
                status=status,
                ms=round(1000.0 * seconds, 2),
                client=client,
            )

    def failure(self, scope: Scope, error: BaseException) -> None:
        """A defect, with its traceback."""
        trace = traceback.format_exception(error)
        self.write(
            "error", "failure", method=scope["method"], path=scope["path"][:200], trace="".join(trace)[-4000:]
        )


class Handler(logging.Handler):
    """Brings the server library's own messages (warnings and worse) into the same lines."""

    def __init__(self, records: Records) -> None:
        super().__init__(logging.WARNING)
        self.records = records

    def emit(self, record: logging.LogRecord) -> None:
        """Write one log record."""
        facts = (
            {"trace": "".join(traceback.format_exception(*record.exc_info))[-4000:]}
            if record.exc_info
            else {}
        )
        self.records.write(record.levelname.lower(), record.getMessage()[:500], **facts)
