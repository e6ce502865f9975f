"""What stands on the screen: sentences, table, details, and nothing that steers a terminal."""

import dataclasses
import io
import re
import sys

import pytest

from fieldrun.outputs.result_file import result_dict
from fieldrun.outputs.screen import WIDE, show_run
from fieldrun.outputs.summary import CAUTION, sentences


class Terminal(io.StringIO):
    def isatty(self):
        return True


def on_a_terminal(result, monkeypatch, detail=0, **environment):
    """What a terminal of 60 columns gets."""
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE"):
        monkeypatch.delenv(name, raising=False)
    for name, value in ({"TERM": "xterm-256color", "COLUMNS": "60"} | environment).items():
        monkeypatch.setenv(name, value)
    screen = Terminal()
    monkeypatch.setattr(sys, "stdout", screen)
    show_run(result, result_dict(result), None, detail)
    return screen.getvalue()


@pytest.fixture
def plank(bundled):
    return bundled("plank-ring")


def titled(result, title):
    return dataclasses.replace(result, design=dataclasses.replace(result.design, title=title))


def shown(result, capsys, detail=0, earlier=None):
    show_run(result, result_dict(result), earlier, detail)
    return capsys.readouterr().out


def test_sentences_come_first_then_the_table_then_the_caution(plank, capsys):
    text = shown(plank, capsys)
    words = " ".join(text.split())
    places = [
        words.index(" ".join(part.split())) for part in ("Plank ring", *sentences(plank), "EMF per phase", CAUTION)
    ]
    assert places == sorted(places)
    assert places[0] == 0


def test_quiet_is_the_sentences_alone(plank, capsys):
    assert " ".join(shown(plank, capsys, detail=-1).split()) == " ".join(["Plank ring", *sentences(plank)])


def test_harmonics_are_for_those_who_ask(plank, capsys):
    assert "harmonic" not in shown(plank, capsys).replace("harmonics in the", "")
    text = shown(plank, capsys, detail=1)
    content = result_dict(plank)
    for order in ("1", "3", "15"):
        field, emf = content["field"]["harmonics_t"][order], content["emf"]["harmonics_v_s_per_rad"][order]
        assert re.search(rf"^ +{order} +{re.escape(f'{field:.5f}')} +{emf:.6f}$", text, re.MULTILINE)


def test_what_changed_is_told(plank, capsys):
    earlier = result_dict(plank)
    earlier["emf"] = earlier["emf"] | {"rms_v_per_krpm": 1.0}
    text = " ".join(shown(plank, capsys, earlier=earlier).split())
    assert "Since the last run: EMF was 1 V per 1000 rpm, now " in text
    assert "Since the last run" not in shown(plank, capsys, earlier=result_dict(plank))


def test_into_a_pipe_go_plain_lines_without_blanks_at_their_ends(plank, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")  # of the terminal behind, which the pipe does not know
    lines = shown(plank, capsys, detail=1).splitlines()
    assert lines == [line.rstrip() for line in lines]
    assert 80 < max(map(len, lines)) <= WIDE
    assert "\x1b" not in "".join(lines)


def test_a_terminal_gets_a_bold_title_within_its_width(plank, monkeypatch):
    text = on_a_terminal(plank, monkeypatch)
    assert text.startswith("\x1b[1mPlank ring\x1b[0m\n")
    assert max(map(len, text.replace("\x1b[1m", "").replace("\x1b[0m", "").splitlines())) <= 60
    title, headings, meter = (line for line in text.splitlines() if "\x1b" in line)
    assert title == "\x1b[1mPlank ring\x1b[0m"
    bare = re.sub(r"\x1b\[\d+m", "", headings)
    assert bare.split("  ")[0] == "rpm"
    assert re.sub(r"\x1b\[\d+m", "", meter).startswith("your meter should read")
    assert "…" not in text


@pytest.mark.parametrize(("name", "value"), [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_no_codes_where_none_are_wanted(plank, monkeypatch, name, value):
    text = on_a_terminal(plank, monkeypatch, 1, **{name: value})
    assert text.startswith("Plank ring\n")
    assert "\x1b" not in text


@pytest.mark.parametrize("title", ["[red]Hut[/red] [1]", "Hut :bell: \\[x", "Hütte am 風", "[/]"])
def test_a_title_is_shown_as_it_is_written(plank, capsys, title):
    assert shown(titled(plank, title), capsys).splitlines()[0] == title


def test_a_title_cannot_steer_the_terminal(plank, capsys):
    text = shown(titled(plank, "a\x1b[31mb\x07\rc\u202ed\ne"), capsys)
    assert text.splitlines()[0] == "a [31mb  c d e"
