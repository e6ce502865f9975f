"""What drawings have in common besides their subject: lines of words, and the cross in the middle."""

from fieldrun.outputs.drawings.record import Label, Line, Shape

LINE_MM = 4.6
"""From one line of words to the next."""


def written(words: list[tuple[str, bool]], top: float) -> list[Shape]:
    """Lines of text in the middle, the first one's base at `top`; True marks a heading."""
    return [
        Label("note", (0.0, top - LINE_MM * i), 3.4 if bold else 2.8, text, "middle", bold)
        for i, (text, bold) in enumerate(words)
    ]


def cross() -> list[Shape]:
    """The middle, by which a drawing is laid on the board."""
    return [Line("mark", (-4.0, 0.0), (4.0, 0.0)), Line("mark", (0.0, -4.0), (0.0, 4.0))]
