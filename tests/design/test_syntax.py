"""Text that is no TOML: one fault, with the line, the key where there is one, and the cure of the common slips."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError
from fieldrun.design.read import read_design

Messages = Callable[[dict[str, str]], list[str]]

SLIPS = {
    "gap_mm = 9 mm": "rotor.gap_mm: received 9 mm; the unit is in the name of the key: write gap_mm = 9",
    "gap_mm = 9mm # air": "rotor.gap_mm: received 9mm # air; the unit is in the name of the key: write gap_mm = 9",
    "gap_mm = 9,5": "rotor.gap_mm: received 9,5; decimals take a point: write gap_mm = 9.5",
    "gap_mm = .5": "rotor.gap_mm: received .5; a point needs digits on both sides: write gap_mm = 0.5",
    "gap_mm = 9.": "rotor.gap_mm: received 9.; a point needs digits on both sides: write gap_mm = 9.0",
    "gap_mm = 09": "rotor.gap_mm: received 09; a number must not start with 0: write gap_mm = 9",
    "gap_mm = stack": 'rotor.gap_mm: received stack; text stands in quotes: write gap_mm = "stack"',
    'gap_mm = "stack': 'rotor.gap_mm: received "stack; the closing quote is missing: write gap_mm = "stack"',
    "gap_mm = “stack”": 'rotor.gap_mm: received “stack”; text takes straight quotes: write gap_mm = "stack"',
    "gap_mm = TRUE": "rotor.gap_mm: received TRUE; true is written small: write gap_mm = true",
    "gap_mm = False": "rotor.gap_mm: received False; false is written small: write gap_mm = false",
    "gap_mm =": "rotor.gap_mm: has no value; write gap_mm = ... or remove the line",
    "gap_mm: 9": "key and value are joined by =, such as gap_mm = 9; received gap_mm: 9",
    "gap_mm = 8\ngap_mm = 9": "rotor.gap_mm: this key stands twice, first in line 13; keep one",
    "gap_mm = 8\nbacking_mm.x = 1": "rotor.backing_mm: this key stands twice; keep one",
    "[magnets]": "magnets: this table stands twice; put its keys under one [magnets]",
    "[magnets": "magnets: this table stands twice; put its keys under one [magnets]",
    "[load": "a table's name stands alone in brackets, such as [magnets]; received [load",
    "gap_mm = {a = 1, a = 2}": "rotor.gap_mm: a key stands twice between these braces; keep one",
}


@pytest.mark.parametrize("written", SLIPS)
def test_a_slip_is_explained(written: str, messages: Messages) -> None:
    line = 14 if "gap_mm = 8\ngap" in written else 16 if "backing" in written else 13
    assert messages({"gap_mm = 9": written}) == [f"hut.toml:{line}: {SLIPS[written]}"]


@pytest.mark.parametrize(
    ("written", "line", "words"),
    [
        ("gap_mm = 9 9", 13, "this is not TOML"),
        ("gap mm = 9", 13, "this is not TOML"),
        ("gap_mm = {a = 1", 13, "this is not TOML"),
        ("gap_mm = [1, 2", 14, "a list before this line has no closing bracket ]"),
        ("gap_mm = '''abc", 27, "the file ends too early"),
        ("gap_mm = \x00", 13, "this is not TOML"),
    ],
)
def test_other_errors_keep_their_line(written: str, line: int, words: str, messages: Messages) -> None:
    (message,) = messages({"gap_mm = 9": written})
    assert message.startswith(f"hut.toml:{line}: ")
    assert words in message


def test_windows_line_ends_count_once(tmp_path: Path) -> None:
    path = tmp_path / "hut.toml"
    path.write_bytes(b'title = "x"\r\n\r\n[rotor]\r\ngap_mm = 9 mm\r\n')
    with pytest.raises(DesignError, match=r"hut.toml:4: rotor.gap_mm: received 9 mm;"):
        read_design(path)


@pytest.mark.parametrize(
    ("text", "words"), [("x = " + 5000 * "[", "nested too deeply"), ("x = " + 5000 * "9", "thousands of digits")]
)
def test_what_the_parser_itself_cannot_bear(text: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "hut.toml"
    path.write_text(text)
    with pytest.raises(DesignError, match=words):
        read_design(path)
