"""The settings there are: key → label, usual unit, reach and round, from `settings.toml`."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def catalogue() -> Mapping[str, Mapping[str, Any]]:
    """Setting key → label, unit, reach (0 = reached for first), round (most moved in one round, in the
    unit)."""
    return tomllib.loads(files("engine").joinpath("settings.toml").read_text("utf-8"))


KEYS = tuple(catalogue())
"""All setting keys, in the catalogue's order; the four corners of a kind stand together: LF RF LR RR."""
