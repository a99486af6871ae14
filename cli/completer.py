"""Completion for the prompt: a thin adapter over `grammar.completion` and the table of commands."""

from collections.abc import Iterable

from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document

from cli.session import PREFIX


class Words(Completer):
    """Commands after the prefix, else words that the grammar knows may come next."""

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        """The completions at the cursor."""
        text = document.text_before_cursor
        if text.startswith(PREFIX):
            from cli.commands import COMMANDS

            if " " not in text:
                for command in COMMANDS:
                    if command.name.startswith(text[len(PREFIX) :]):
                        yield Completion(
                            PREFIX + command.name, start_position=-len(text), display_meta=command.help
                        )
            return
        from grammar.completion import complete

        for words in complete(text):
            yield Completion(words, start_position=-overlap(text, words))


def overlap(text: str, words: str) -> int:
    """How many characters at the end of the text the completion takes the place of.

    >>> overlap("loose on the br", "on the brakes")
    9
    """
    low, new = text.casefold(), words.casefold()
    for start in range(max(0, len(low) - len(new)), len(low)):
        if (start == 0 or not low[start - 1].isalnum()) and new.startswith(low[start:]):
            return len(low) - start
    return 0
