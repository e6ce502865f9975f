"""What a report consists of, before anybody decides how it looks: texts, numbers and figures, frozen."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from markupsafe import Markup


@dataclass(frozen=True)
class KeyNumber:
    """A number to see first: `value` as it is shown, with its unit; what it is; and under which condition."""

    name: str
    value: str
    unit: str
    when: str = ""


@dataclass(frozen=True)
class Table:
    """Rows under headings. Columns of `words` stand to the left, numbers to the right; `marked` rows stand out.

    `headings` empty: the first column names its row, the others belong to it, and the table folds on a narrow page.
    """

    caption: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: frozenset[int] = frozenset({0})
    marked: frozenset[int] = frozenset()
    note: str = ""


@dataclass(frozen=True)
class Control:
    """A slider that only a script makes work: its name for a listener, and where it may stand."""

    name: str
    low: float
    high: float
    step: float
    start: float
    plays: bool = False


@dataclass(frozen=True)
class Picture:
    """A drawing, all of it inside the page.

    Parameters
    ----------
    anchor : unique in the page; ids inside `drawings` begin with it
    title, caption : over and under it
    drawings : SVG elements side by side, each with its own text alternative
    kind : how the page lays it out: "chart", "pair", "house" or "plan"
    control : slider below the drawings
    shown : what stands beside the slider as long as no script moved it
    data : numbers for the script
    values : the same numbers for those who cannot see the drawing, folded away
    """

    anchor: str
    title: str
    caption: str
    drawings: tuple[Markup, ...]
    kind: str = "chart"
    control: Control | None = None
    shown: str = ""
    data: Mapping[str, object] = field(default_factory=dict)
    values: Table | None = None


@dataclass(frozen=True)
class Chapter:
    """A part of the report under one heading; `warnings` and `cautions` are paragraphs that must not be missed.

    `folded` tables are for those who ask for them.
    """

    anchor: str
    title: str
    paragraphs: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    pictures: tuple[Picture, ...] = ()
    tables: tuple[Table, ...] = ()
    points: tuple[str, ...] = ()
    folded: tuple[Table, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Nothing to read and nothing to see."""
        parts = (self.paragraphs, self.warnings, self.cautions, self.pictures, self.tables, self.points, self.folded)
        return not any(parts)


@dataclass(frozen=True)
class Report:
    """A whole report; `facts` are version, design, hash, mesh and error estimate."""

    title: str
    job: str
    key_numbers: tuple[KeyNumber, ...]
    chapters: tuple[Chapter, ...]
    facts: Mapping[str, str]
