"""What the service writes on stderr: one JSON object per line. Never a complaint, a token or a query."""

import json
import logging
import sys
import time
import traceback
from json.encoder import encode_basestring_ascii as quoted
from typing import IO, Any

from starlette.types import Scope


class Records:
    """Where the lines go. `on` False keeps the line per request away; failures are always written."""

    def __init__(self, on: bool = True, stream: IO[str] | None = None) -> None:
        self.on, self.stream = on, stream or sys.stderr

    def write(self, level: str, what: str, **facts: Any) -> None:
        """One line: time (Unix s), level, what, then the facts. A closed stderr loses only the line."""
        self._put(json.dumps({"time": round(time.time(), 3), "level": level, "what": what, **facts}))

    def _put(self, line: str) -> None:
        try:
            self.stream.write(line + "\n")
            self.stream.flush()
        except (OSError, ValueError):
            pass

    def request(self, scope: Scope, status: int, seconds: float) -> None:
        """One request answered (`status` 0: the client left first)."""
        if self.on:
            client = (scope.get("client") or ("unknown", 0))[0]
            self._put(  # put together here: a general encoder takes as long as the rest of a short request
                f'{{"time": {time.time():.3f}, "level": "info", "what": "request", '
                f'"method": {quoted(scope["method"])}, "path": {quoted(scope["path"][:200])}, '
                f'"status": {status}, "ms": {1000 * seconds:.2f}, "client": {quoted(client)}}}'
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
