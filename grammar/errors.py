"""The grammar's exceptions.

ReadingError
├── EmptyText        nothing to read
├── TextTooLong      over the bound: measured, allowed, unit
└── TableError       a vocabulary table is wrong: file, phrase, problem
"""


class ReadingError(Exception):
    """Base of everything the grammar raises on purpose. `str()` is a sentence for people; attributes hold
    the facts."""


class EmptyText(ReadingError):
    """The text holds nothing but space."""

    def __init__(self) -> None:
        super().__init__("there is nothing to read: say what the car does, for example: loose in, tight off")


class TextTooLong(ReadingError):
    """The text is over the bound. `measured` and `allowed` are counts of `unit` (characters or words)."""

    def __init__(self, measured: int, allowed: int, unit: str) -> None:
        self.measured, self.allowed, self.unit = measured, allowed, unit
        super().__init__(f"the text has {measured:,} {unit}, allowed: 1 to {allowed:,} {unit}")


class TableError(ReadingError):
    """A vocabulary table cannot be used. `file` and `phrase` say where, `problem` what is wrong."""

    def __init__(self, file: str, phrase: str, problem: str) -> None:
        self.file, self.phrase, self.problem = file, phrase, problem
        super().__init__(f"{file}: {phrase!r} {problem}")
