"""Text of the user's own made harmless: one line, nothing invisible, no longer than there is room."""

import unicodedata

LONGEST = 80
"""Letters of a title that a drawing shows."""


def one_line(text: str, most: int = LONGEST) -> str:
    """A title as one line of visible letters, cut short with dots where it is longer than `most`."""
    visible = "".join(" " if unicodedata.category(letter)[0] in "CZ" else letter for letter in text)
    line = " ".join(visible.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"
