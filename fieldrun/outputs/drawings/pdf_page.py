"""Pages of a PDF in true millimetres: letters that come with the house, nothing that changes between two runs."""

from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from fieldrun.outputs.drawings.clean import one_line

FONTS = {"house": "DejaVuSans.ttf", "house-bold": "DejaVuSans-Bold.ttf"}
"""matplotlib brings them: the same letters everywhere, and most of the world's."""

PAPERS_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height (ISO 216; ANSI/ASME Y14.1)."""

POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True)
class Paper:
    """A sheet and a printer: `scale` is what drawn lengths are stretched by, across and up, to come out true."""

    name: str
    scale: tuple[float, float] = (1.0, 1.0)

    @property
    def width(self) -> float:
        """Width in lengths as drawn: a printer that shrinks gets more of them on its sheet."""
        return PAPERS_MM[self.name][0] / self.scale[0]

    @property
    def height(self) -> float:
        """Height likewise."""
        return PAPERS_MM[self.name][1] / self.scale[1]


class Book:
    """A PDF in the making: pages are added, `content` ends it. The only thing here that changes in place."""

    def __init__(self, paper: Paper, title: str, facts: dict[str, str]) -> None:
        from reportlab.pdfgen.canvas import Canvas

        _register_fonts()
        self.paper = paper
        self.pages = 0
        self._file = BytesIO()
        wide, high = PAPERS_MM[paper.name]
        size = (wide * POINTS_PER_MM, high * POINTS_PER_MM)
        self.canvas: Any = Canvas(self._file, pagesize=size, invariant=1, pageCompression=1)
        self.canvas.setTitle(one_line(title))
        self.canvas.setSubject("; ".join(f"{key}: {value}" for key, value in facts.items()))
        self.canvas.setAuthor("")
        self.canvas.setCreator(f"fieldrun {facts.get('fieldrun', '')}".strip())
        self.canvas.setViewerPreference("PrintScaling", "None")

    def begin(self) -> Any:
        """Start a page whose unit is a true millimetre; give the canvas."""
        self.pages += 1
        across, up = self.paper.scale
        self.canvas.scale(POINTS_PER_MM * across, POINTS_PER_MM * up)
        self.canvas.setLineCap(1)
        return self.canvas

    def end(self) -> None:
        """Close the page."""
        self.canvas.showPage()

    def content(self) -> bytes:
        """The finished file."""
        self.canvas.save()
        return self._file.getvalue()


@cache  # reportlab keeps its fonts for the whole process, and every width of a word asks for them
def _register_fonts() -> None:
    import matplotlib as mpl
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for name, file in FONTS.items():
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(folder / file)))


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of one line [in units of `size`]."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    _register_fonts()
    return float(stringWidth(text, "house-bold" if bold else "house", size))


def fitted(text: str, size: float, width: float, *, bold: bool = False) -> str:
    """One line cut short with dots so that it is no wider."""
    line = one_line(text, 400)
    if text_width(line, size, bold=bold) <= width:
        return line
    while line and text_width(line + "\N{HORIZONTAL ELLIPSIS}", size, bold=bold) > width:
        line = line[:-1].rstrip()
    return line + "\N{HORIZONTAL ELLIPSIS}"


def wrapped(text: str, size: float, width: float) -> list[str]:
    """Text in lines no wider than `width`; a word that is wider by itself is cut."""
    lines, line = [], ""
    for word in one_line(text, 4000).split():
        longer = f"{line} {word}".strip()
        if line and text_width(longer, size) > width:
            lines.append(line)
            longer = word
        line = fitted(longer, size, width)
    return [*lines, line] if line else lines
