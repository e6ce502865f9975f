"""What a message holds of the user's own letters does no harm."""

import pytest

from fieldrun.design.errors import KEPT_AT_END, LONGEST, DesignError, Fault, harmless, visible


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain, grün, Ω, 風", "plain, grün, Ω, 風"),
        ("\x1b[2J\x07", "\\x1b[2J\\x07"),
        ("two\nlines\r", "two\\nlines\\r"),
        ("a\x00b\xa0c", "a\\x00b\\xa0c"),
        ("\u202egnirts\ufeff\u2028", "\\u202egnirts\\ufeff\\u2028"),
        ("\udcff", "\\udcff"),  # a file's name that is not UTF-8
    ],
)
def test_letters_that_steer_or_hide_are_written_out(text: str, shown: str) -> None:
    assert visible(text) == shown
    assert harmless(text) == shown
    assert str(Fault(text, text, text, 3)) == f"{shown}:3: {shown}: {shown}"
    assert str(DesignError([Fault("", text)])) == shown


def test_what_is_too_long_keeps_its_beginning_and_its_cure() -> None:
    text = "must be a number; received " + "1" * 5000 + "; try 5"
    shown = harmless(text)
    assert len(shown) == LONGEST + len(" ... ")
    assert shown.startswith("must be a number; received 111")
    assert shown.endswith("; try 5")
    assert harmless("x" * LONGEST) == "x" * LONGEST
    assert shown.split(" ... ")[1] == text[-KEPT_AT_END:]


def test_the_name_of_a_file_is_never_cut() -> None:
    assert str(Fault("", "broken", "x" * 3000, 1)) == f"{'x' * 3000}:1: broken"
