"""Whole conversations as readable files, reviewed as a diff.

`tests/golden/chat/NAME.txt`: lines with `#` say what the story is, a line with `$` holds the options, those
with `>` are what the driver types, the rest is what he gets to see. Whether the answers are *right* is
checked elsewhere; here it is what a conversation looks like. After a wanted change:

    QUARTERTURN_ACCEPT=1 python -m pytest tests/test_cli_transcripts.py
"""

import os
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
STORIES = sorted((ROOT / "tests" / "golden" / "chat").glob("*.txt"))
PATIENCE = 60.0


def play(options: list[str], typed: list[str], folder: Path) -> str:
    """Type the lines into a pipe; the width of the page is the option `--width`, if there, else 80."""
    width = "80"
    if "--width" in options:
        place = options.index("--width")
        width = options[place + 1]
        options = options[:place] + options[place + 2 :]
    told = subprocess.run(
        [sys.executable, "-m", "cli", "--db", str(folder / "log.db"), "--session", "story", *options],
        input="\n".join(typed) + "\n",
        capture_output=True,
        encoding="utf-8",
        cwd=ROOT,
        env=os.environ | {"PYTHONIOENCODING": "utf-8", "COLUMNS": width, "XDG_DATA_HOME": str(folder)},
        timeout=PATIENCE,
    )
    assert told.stderr == ""
    return told.stdout


@pytest.mark.parametrize("story", STORIES, ids=lambda path: path.stem)
def test_a_conversation_looks_as_it_did(story: Path, tmp_path: Path) -> None:
    lines = story.read_text(encoding="utf-8").splitlines()
    head = [line for line in lines if line.startswith(("#", "$"))]
    options = [word for line in head if line.startswith("$") for word in shlex.split(line[1:])]
    typed = [line[2:] for line in lines if line.startswith("> ")]

    played = "\n".join([*head, "", *play(options, typed, tmp_path).rstrip().splitlines()]) + "\n"

    if os.environ.get("QUARTERTURN_ACCEPT"):
        story.write_text(played, encoding="utf-8", newline="\n")
        return
    assert "\n".join(lines) + "\n" == played


def test_there_are_stories() -> None:
    assert len(STORIES) >= 5
