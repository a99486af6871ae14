"""Text files as editors and consoles write them: UTF-8 with or without a mark, UTF-16 with one."""

import codecs
from pathlib import Path

__all__ = ["encoding_of", "read_text"]

MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
"""First bytes → encoding. Some Windows editors mark UTF-8; its older PowerShell redirects as UTF-16."""


def encoding_of(start: bytes) -> str:
    """The encoding of a text, by its first bytes."""
    return next((name for mark, name in MARKS if start.startswith(mark)), "utf-8")


def read_text(path: Path) -> str:
    """The text of a file, each line end as one newline. Raises OSError, and UnicodeDecodeError for what is
    none of these."""
    data = path.read_bytes()
    return data.decode(encoding_of(data)).replace("\r\n", "\n").replace("\r", "\n")
