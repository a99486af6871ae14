"""The commands of the builder's tools: word, help, function (see `cli.subcommands`)."""

from collections.abc import Callable

ROWS: tuple[tuple[str, str, Callable[[list[str]], int]], ...] = ()
