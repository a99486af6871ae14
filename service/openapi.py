"""OpenAPI 3.1, made from the same table the application is made from, so that it cannot say otherwise."""

import re
from collections.abc import Sequence
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from service.contract import ErrorOut
from service.errors import CODES, EVERYWHERE, POSTED
from service.table import Row

Json = dict[str, Any]
EVENT = {name: {"type": "string"} for name in ("id", "event", "data")}
PLAIN: dict[str, Json] = {
    "application/json": {"type": "object"},
    "text/event-stream": {"type": "object", "properties": EVENT, "description": "one event of the stream"},
}
"""Schemas of answers that are no shape of ours; anything else is text."""


def describe(rows: Sequence[Row], version: str, *, token: bool = False) -> Json:
    """The document for these routes. `token`: whether this service wants one."""
    modes: list[tuple[type[BaseModel], Literal["validation", "serialization"]]] = [
        (ErrorOut, "serialization")
    ]
    modes += [(row.takes, "validation") for row in rows if row.takes]
    modes += [(row.gives, "serialization") for row in rows if row.gives]
    unique = list(dict.fromkeys(modes))
    refs, schemas = models_json_schema(unique, by_alias=True, ref_template="#/components/schemas/{model}")
    paths: Json = {}
    for row in rows:
        paths.setdefault(row.path, {})[row.method.lower()] = _operation(row, refs)
    document: Json = {
        "openapi": "3.1.0",
        "info": {
            "title": "quarterturn",
            "version": version,
            "description": "A complaint about a stock car in, the fewest justified set-up changes out.",
        },
        "paths": paths,
        "components": {"schemas": schemas["$defs"]},
    }
    if token:
        document["components"]["securitySchemes"] = {"token": {"type": "http", "scheme": "bearer"}}
        document["security"] = [{"token": []}]
    return document


def _operation(row: Row, refs: Any) -> Json:
    operation: Json = {
        "operationId": re.sub(r"\W+", "-", f"{row.method.lower()}{row.path}").strip("-"),
        "summary": row.says,
        "responses": {str(row.status): _success(row, refs)} | _errors(row, refs),
    }
    parameters = [
        {"name": name, "in": "path", "required": True, "schema": {"type": "string", "minLength": 1}}
        for name in re.findall(r"{(\w+)}", row.path)
    ]
    parameters += [
        {"name": name, "in": "query", "schema": dict(schema)} for name, schema in row.query.items()
    ]
    if parameters:
        operation["parameters"] = parameters
    if row.open:
        operation["security"] = []
    if row.takes:
        body = {"application/json": {"schema": refs[(row.takes, "validation")]}}
        operation["requestBody"] = {"required": True, "content": body}
    return operation


def _success(row: Row, refs: Any) -> Json:
    schema = refs[(row.gives, "serialization")] if row.gives else PLAIN.get(row.media, {"type": "string"})
    return {"description": row.says, "content": {row.media: {"schema": schema}}}


def _errors(row: Row, refs: Any) -> Json:
    names = EVERYWHERE + row.errors + (POSTED if row.method == "POST" else ())
    found: dict[int, list[str]] = {}
    for name in dict.fromkeys(names):
        code = CODES[name]
        found.setdefault(code.status, []).append(f"{code.name}: {code.means}")
    error = {"application/json": {"schema": refs[(ErrorOut, "serialization")]}}
    return {str(s): {"description": " ".join(means), "content": error} for s, means in sorted(found.items())}
