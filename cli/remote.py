"""A running service by its URL, with the standard library's client."""

import json
import os
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from cli.problems import BAD_INPUT, UNREACHABLE, Problem, check_texts

if TYPE_CHECKING:
    from service.contract import Advice, ReadingOut
    from service.contract_tools import ToolAnswer

SECONDS = 30.0
LONGEST = 20_000_000
"""Bytes of an answer that are read; a longer one is not from a quarterturn service."""


class There:
    """Asks the service at `url` (http, https). QUARTERTURN_TOKEN in the environment is sent as its token."""

    def __init__(self, url: str) -> None:
        parts = urllib.parse.urlsplit(url)
        if parts.scheme not in ("http", "https") or not parts.netloc:
            raise Problem(f"--server {url!r} is not a URL", "for example --server http://127.0.0.1:8417")
        self.url = url.rstrip("/")

    def advise(self, request: Mapping[str, Any]) -> "Advice":
        """See cli.client.Client."""
        from service.contract import Advice

        return Advice.model_validate(self._ask("/v1/advice", request))

    def read(self, text: str) -> "ReadingOut":
        """See cli.client.Client."""
        from service.contract import ReadingOut

        return ReadingOut.model_validate(self._ask("/v1/reading", {"text": text}))

    def tool(self, name: str, request: Mapping[str, Any]) -> "ToolAnswer":
        """See cli.client.Client."""
        from service.contract_tools import ToolAnswer

        return ToolAnswer.model_validate(self._ask(f"/v1/{name}", request))

    def handout(self, request: Mapping[str, Any]) -> str:
        """See cli.client.Client."""
        return str(self._ask("/v1/sheet", request)["text"])

    def sheets(self, kind: str) -> list[dict[str, Any]]:
        """See cli.client.Client."""
        found = self._ask(f"/v1/{kind}")
        rows = found[kind] if isinstance(found, dict) else found
        return [dict(row) for row in rows]

    def sheet(self, kind: str, name: str) -> dict[str, Any]:
        """See cli.client.Client."""
        return dict(self._ask(f"/v1/{kind}/{urllib.parse.quote(name, safe='')}"))

    def state(self, session: str) -> dict[str, Any]:
        """See cli.client.Client."""
        try:
            found = dict(self._ask(f"/v1/sessions/{urllib.parse.quote(session, safe='')}"))
        except Problem as problem:
            if problem.code != "unknown_name":
                raise
            found = {"car": None, "track": None, "setup": {}}
        for kind, key in (("cars", "car"), ("tracks", "track")):
            given = found[key]
            found[key] = given["id"] if isinstance(given, dict) else given or self._default(kind)
        return found

    def open(self, session: str, context: Mapping[str, Any]) -> None:
        """See cli.client.Client."""
        self._ask("/v1/sessions", {"session": session, **context})

    def learned(self, session: str) -> list[str]:
        """See cli.client.Client."""
        return [str(line) for line in self._of_session(session, "learned")["lines"]]

    def forget(self, session: str) -> None:
        """See cli.client.Client."""
        self._of_session(session, "forget", {})

    def log(self, session: str) -> list[dict[str, Any]]:
        """See cli.client.Client."""
        body = self._fetch(f"/v1/sessions/{urllib.parse.quote(session, safe='')}/log")
        return [json.loads(line) for line in body.splitlines() if line.strip()]

    def notices(self) -> list[str]:
        """See cli.client.Client."""
        return []

    def _of_session(self, session: str, part: str, data: Mapping[str, Any] | None = None) -> dict[str, Any]:
        """What was learned, as the service tells it; a session it does not know yet has learned nothing."""
        try:
            return dict(self._ask(f"/v1/sessions/{urllib.parse.quote(session, safe='')}/{part}", data))
        except Problem as problem:
            if problem.code != "unknown_name":
                raise
            return {"lines": []}

    def _default(self, kind: str) -> str:
        rows = self.sheets(kind)
        return str(next((row["id"] for row in rows if row.get("default")), rows[0]["id"]))

    def _ask(self, path: str, data: Mapping[str, Any] | None = None) -> Any:
        body = self._fetch(path, data)
        try:
            return json.loads(body)
        except ValueError as error:
            raise self._unreachable("what answers there is not a quarterturn service") from error

    def _fetch(self, path: str, data: Mapping[str, Any] | None = None) -> bytes:
        headers = {"Accept": "application/json"}
        token = os.environ.get("QUARTERTURN_TOKEN")
        if token:
            headers["Authorization"] = f"Bearer {token}"
        body = None
        if data is not None:
            check_texts(data)
            body = json.dumps({k: v for k, v in data.items() if v is not None}).encode()
            headers["Content-Type"] = "application/json"
        asked = urllib.request.Request(self.url + path, data=body, headers=headers)
        try:
            with urllib.request.urlopen(asked, timeout=SECONDS) as answer:
                return bytes(answer.read(LONGEST))
        except urllib.error.HTTPError as error:
            raise self._refused(error) from error
        except (OSError, ValueError) as error:
            reason = getattr(error, "reason", error)
            raise self._unreachable(str(getattr(reason, "strerror", None) or reason)) from error

    def _refused(self, error: urllib.error.HTTPError) -> Problem:
        try:
            told = json.loads(error.read(LONGEST))["error"]
            exit = UNREACHABLE if error.code >= 500 or error.code in (401, 403) else BAD_INPUT
            return Problem(str(told["message"]), told.get("hint"), code=str(told["code"]), exit=exit)
        except (ValueError, KeyError, TypeError, OSError):
            return self._unreachable(f"it answered {error.code} {error.reason}")

    def _unreachable(self, reason: str) -> Problem:
        hint = "is it running? start one with: quarterturn serve"
        return Problem(f"no answer from {self.url}: {reason}", hint, code="unreachable", exit=UNREACHABLE)
