"""A bar for people who watch a terminal, and nothing for anybody else."""

import io
import sys
import threading

import pytest
from rich.progress import Progress

from fieldrun.outputs.progress import points_told, steps_told


class Terminal(io.StringIO):
    def isatty(self):
        return True


def told(stream, monkeypatch, **options):
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE"):
        monkeypatch.delenv(name, raising=False)
    for name, value in ({"TERM": "xterm-256color", "COLUMNS": "80"} | options.pop("environment", {})).items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "stderr", stream)
    with steps_told(2, **options) as tell:
        tell("flat sections")
        tell("rings")
    return stream.getvalue()


def test_a_terminal_sees_the_step_and_how_many_there_are(monkeypatch):
    text = told(Terminal(), monkeypatch)
    assert "rings" in text
    assert "1 of 2" in text
    assert text.rstrip().endswith("\x1b[2K")  # the line is wiped in the end


def test_without_colour_it_has_none(monkeypatch):
    assert "\x1b[3" in told(Terminal(), monkeypatch)
    assert "\x1b[3" not in told(Terminal(), monkeypatch, environment={"NO_COLOR": "1"})


@pytest.mark.parametrize(("stream", "options"), [(io.StringIO, {}), (Terminal, {"quiet": True})])
def test_no_one_else_sees_anything(monkeypatch, stream, options):
    assert told(stream(), monkeypatch, **options) == ""
    assert told(io.StringIO(), monkeypatch, environment={"FORCE_COLOR": "1"}) == ""


def test_what_is_over_soon_shows_nothing(monkeypatch):
    assert told(Terminal(), monkeypatch, after_s=60) == ""


def test_what_takes_longer_shows_up_late(monkeypatch):
    """The bar starts by itself, in the middle of a step too."""
    stream, started = Terminal(), threading.Event()
    start = Progress.start
    monkeypatch.setattr(Progress, "start", lambda self: (start(self), started.set()))
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr(sys, "stderr", stream)
    with steps_told(2, after_s=0.01) as tell:
        tell("flat sections")
        assert started.wait(20)
        tell("rings")
    assert "1 of 2" in stream.getvalue()
    assert stream.getvalue().rstrip().endswith("\x1b[2K")
    assert threading.active_count() == 1 or not any("Timer" in thread.name for thread in threading.enumerate())


def points(stream, monkeypatch, **options):
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr(sys, "stderr", stream)
    with points_told(**options) as tell:
        for done in range(1, 4):
            tell(done, 3000)
    return stream.getvalue()


def test_points_are_counted_with_the_time_left(monkeypatch):
    text = points(Terminal(), monkeypatch, after_s=0)
    assert "3 of 3000" in text
    assert "left" in text


def test_points_are_counted_on_a_terminal_only_and_only_if_it_takes_long(monkeypatch):
    assert points(io.StringIO(), monkeypatch, after_s=0) == ""
    assert points(Terminal(), monkeypatch, after_s=0, quiet=True) == ""
    assert points(Terminal(), monkeypatch) == ""
