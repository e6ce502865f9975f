"""What the user probably meant, and how names are listed in a message."""

import difflib
from collections.abc import Iterable


def nearest(word: str, known: Iterable[str], likeness: float = 0.6) -> str | None:
    """Return the known word most like `word`, or None if none is alike enough (0: anything, 1: equal)."""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=likeness)
    return close[0] if close else None


def one_of(words: Iterable[object]) -> str:
    """Join with commas, the last with "or"; strings in quotes as they would stand in the file."""
    shown = [f'"{word}"' if isinstance(word, str) else str(word) for word in words]
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} or {shown[-1]}"
