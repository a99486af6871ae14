"""Bibliography of the rules of thumb: key → title, where, how far we trust it."""

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files

from engine.car import Frozen
from engine.errors import UnknownName


class Source(Frozen):
    """`mark`: P published, P* weak or for another kind of car, book, practice (no source)."""

    key: str
    title: str
    where: str
    mark: str


@cache
def sources() -> Mapping[str, Source]:
    """All sources by key."""
    rows = tomllib.loads(files("engine").joinpath("sources.toml").read_text("utf-8"))
    return {key: Source(key=key, **row) for key, row in rows.items()}


def used(keys: Iterable[str]) -> tuple[Source, ...]:
    """The sources of some keys, each once, in order of first use; UnknownName if there is none of that
    key."""
    known = sources()
    found = []
    for key in dict.fromkeys(keys):
        if key not in known:
            raise UnknownName("source", key, known)
        found.append(known[key])
    return tuple(found)
