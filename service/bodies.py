"""Reading a body: type, size, time, then strict JSON: no NaN, huge number, NUL or double key, not deep."""

import asyncio
import json
from collections.abc import Mapping
from functools import lru_cache
from math import isfinite
from typing import Any, NoReturn

from pydantic import BaseModel, ValidationError
from starlette.types import Receive

from engine.allowing import allowed
from service.errors import Problem
from service.settings import Settings

LARGEST = 1e15
"""No number of a set-up is larger; beyond it a whole number no longer fits a double exactly."""
DRAINED = 1_048_576
"""Bytes of a too large body that are read and thrown away before the connection is closed."""
Headers = Mapping[bytes, bytes]


async def read_body(headers: Headers, receive: Receive, settings: Settings) -> bytes:
    """The whole body, at most `body_bytes` (also when chunked), within `read_seconds`. Problem otherwise."""
    check_type(headers.get(b"content-type", b""), headers.get(b"content-encoding", b"identity"))
    if _all_here(receive):
        return await _collect(headers, receive, settings)
    try:
        async with asyncio.timeout(settings.read_seconds):
            return await _collect(headers, receive, settings)
    except TimeoutError:
        message = f"the body did not arrive within {settings.read_seconds:g} s"
        raise Problem("too_slow", message, "body", headers=(("connection", "close"),)) from None


def _all_here(receive: Receive) -> bool:
    """Whether the server library has the whole body already, as with most: then there is nothing to time."""
    return not getattr(getattr(receive, "__self__", None), "more_body", True)


async def _collect(headers: Headers, receive: Receive, settings: Settings) -> bytes:
    """The body; what is over the cap is read on a while and thrown away: so the client sees the refusal."""
    body, size, more = b"", 0, True
    length = headers.get(b"content-length", b"0")
    announced = int(length) if length.isdigit() and len(length) < 16 else settings.body_bytes + 1
    while more and size < DRAINED:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise Problem("malformed", "the client left before the body was complete", "body")
        chunk, more = message.get("body", b""), message.get("more_body", False)
        size += len(chunk)
        body = body + chunk if size <= settings.body_bytes else b""
    if max(size, announced) > settings.body_bytes:
        raise _too_large(settings)
    return body


def _too_large(settings: Settings) -> Problem:
    message = f"the body is longer than {settings.body_bytes} bytes"
    return Problem("too_large", message, "body", headers=(("connection", "close"),))


@lru_cache(64)
def check_type(content: bytes, coding: bytes) -> None:
    """Problem unless the Content-Type is plain JSON in UTF-8 and the Content-Encoding is none."""
    given = content.decode("latin-1").lower()
    kind, _, parameters = (part.strip() for part in given.partition(";"))
    charset = parameters.removeprefix("charset=").strip('"')
    if kind != "application/json" or charset not in ("", "utf-8"):
        raise Problem(
            "wrong_type", f"Content-Type is {given[:80]!r}", "Content-Type", "send application/json"
        )
    if coding.lower() != b"identity":
        raise Problem("wrong_type", "the body is compressed", "Content-Encoding", "send it plain")


def parse_json(body: bytes, settings: Settings) -> Any:
    """The value of a JSON body, or Problem `malformed` with the place."""
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Problem("malformed", f"not UTF-8 at byte {error.start}", "body") from None
    try:
        value = DECODER.decode(text)
    except json.JSONDecodeError as error:
        raise Problem(
            "malformed", f"not JSON: {error.msg}", f"line {error.lineno} column {error.colno}"
        ) from None
    except RecursionError:
        raise _too_deep(settings) from None
    _check_value(value, settings)
    return value


def shape_of(kind: type[BaseModel], value: Any) -> BaseModel:
    """`value` as the shape a route takes; Problem names the first key that is wrong."""
    try:
        return kind.model_validate(value, strict=True)
    except ValidationError as error:
        message, where = wrong_part(error, kind)
        raise Problem("malformed", message, where, "see /openapi.json") from None


def wrong_part(error: ValidationError, kind: type[BaseModel] | None = None) -> tuple[str, str]:
    """The first thing wrong in a request, as a sentence with the value and what is allowed; and its place."""
    first = error.errors(include_url=False)[0]
    where = ".".join(str(part) for part in first["loc"]) or "body"
    if first["type"] == "missing":
        return f"{where} is missing", where
    return f"{where} is {repr(first['input'])[:60]}, allowed: {allowed(first, kind)}", where


def _float(text: str) -> float:
    value = float(text)
    if not isfinite(value) or abs(value) > LARGEST:
        raise Problem("malformed", f"the number {text[:40]} is too large", "body", "between -1e15 and 1e15")
    return value


def _whole(text: str) -> int:
    if len(text) > 16 or abs(int(text)) > LARGEST:
        raise Problem("malformed", f"the number {text[:40]} is too large", "body", "between -1e15 and 1e15")
    return int(text)


def _no_constant(name: str) -> NoReturn:
    raise Problem("malformed", f"{name} is not a number JSON knows", "body")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise Problem("malformed", f"the key {twice[:80]!r} is given twice", "body")
    return found


DECODER = json.JSONDecoder(
    parse_constant=_no_constant, parse_float=_float, parse_int=_whole, object_pairs_hook=_once
)


def _too_deep(settings: Settings) -> Problem:
    return Problem("malformed", f"nested deeper than {settings.depth} levels", "body")


def _check_value(value: Any, settings: Settings) -> None:
    """Depth and text of every part, without recursion."""
    parts: list[tuple[Any, int]] = [(value, 1)]
    while parts:
        part, depth = parts.pop()
        if isinstance(part, str):
            _check_text(part)
        elif isinstance(part, (dict, list)):
            if depth > settings.depth:
                raise _too_deep(settings)
            if isinstance(part, dict):
                parts += [(key, depth) for key in part]
                part = part.values()
            parts += [(inner, depth + 1) for inner in part]


def _check_text(text: str) -> None:
    if "\0" in text:
        raise Problem("malformed", "a text holds a NUL character", "body")
    if not text.isascii():
        try:
            text.encode()
        except UnicodeEncodeError:
            raise Problem("malformed", "a text holds half of a surrogate pair", "body") from None
