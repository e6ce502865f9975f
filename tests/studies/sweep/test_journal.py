"""What was found outlives whatever ends a sweep, and is never mixed with another sweep's."""

import errno
import json

import pytest

from fieldrun.design.errors import DesignError, FieldrunError
from fieldrun.studies.sweep import journal as module
from fieldrun.studies.sweep.journal import open_journal
from fieldrun.studies.sweep.task import Outcome

HEADER = {
    "sweep": 1,
    "name": "hut",
    "design_hash": "8f3a",
    "plan": {"count": 3},
    "picks": list("abcd"),
    "fieldrun": "0.4.0",
}
GOOD = Outcome(0, "ok", (1.5, None, "coupled rings", 44))
BAD = Outcome(2, "failed", reason="the steel's flux did not settle")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "new" / "sweep.jsonl"


@pytest.fixture
def written(path):
    with open_journal(path, HEADER) as (book, found):
        assert found == {}
        book.add(GOOD, "k0")
        book.add(BAD, "k2")
    return path


def read(path, header=HEADER, **options):
    with open_journal(path, header, **options) as (_, found):
        return found


def test_outcomes_come_back_as_they_were(written):
    assert read(written) == {0: ("k0", GOOD), 2: ("k2", BAD)}


def test_numbers_come_back_to_the_last_bit(path):
    number = 0.1 + 0.2
    with open_journal(path, HEADER) as (book, _):
        book.add(Outcome(0, "ok", (number, 1, None, "")), "k")
    assert read(path)[0][1].picked[0] == number


@pytest.mark.parametrize("cut", range(1, 40))
def test_a_torn_last_line_is_dropped_and_written_over(written, cut):
    written.write_bytes(written.read_bytes()[:-cut])
    with open_journal(written, HEADER) as (book, found):
        assert found == {0: ("k0", GOOD)}
        book.add(BAD, "k2")
    assert read(written) == {0: ("k0", GOOD), 2: ("k2", BAD)}


def test_a_torn_header_is_a_new_journal(path):
    path.parent.mkdir()
    path.write_bytes(b'{"sweep":1,"na')
    assert read(path) == {}
    assert path.read_bytes().count(b"\n") == 1


def test_the_last_word_on_a_point_counts(written):
    with open_journal(written, HEADER) as (book, _):
        book.add(Outcome(2, "ok", (2.5, 1, None, "")), "k2")
    assert read(written)[2] == ("k2", Outcome(2, "ok", (2.5, 1, None, "")))


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"name": "plank"}, "holds a sweep with another design"),
        ({"design_hash": "0000"}, "holds a sweep with other values in the design file"),
        ({"plan": {"count": 4}, "picks": ["b"]}, "holds a sweep with other points and other picks"),
        ({"fieldrun": "9"}, "holds a sweep with another version of fieldrun"),
        ({"new": 1}, "holds a sweep with another format"),
    ],
)
def test_another_sweeps_journal_is_refused_and_left_alone(written, changed, told):
    before = written.read_bytes()
    with pytest.raises(DesignError) as caught:
        read(written, HEADER | changed)
    advice = "name another folder with --out, or --force starts anew and drops what it holds"
    assert str(caught.value) == f"--out: {written} {told}; {advice}"
    assert written.read_bytes() == before


def test_something_else_of_that_name_is_refused(path):
    path.parent.mkdir()
    path.write_text("my diary\n")
    with pytest.raises(DesignError, match="is no journal of a sweep"):
        read(path)


def test_force_begins_anew(written):
    assert read(written, HEADER | {"name": "plank"}, fresh=True) == {}
    assert json.loads(written.read_text())["name"] == "plank"


def test_a_damaged_line_is_named(written):
    lines = written.read_text().splitlines(keepends=True)
    written.write_text(lines[0] + "garbage\n" + lines[2])
    with pytest.raises(DesignError) as caught:
        read(written)
    assert str(caught.value) == f"{written}:2: this line is damaged; take it out to have its point solved again"


@pytest.mark.parametrize(
    "line",
    [
        '{"i":0,"design":"k0","status":"ok","picked":[1.5,null,"rings"]}',  # a cell is missing
        '{"i":0,"design":"k0","status":"ok","picked":[NaN,null,"rings",44]}',
        '{"i":0,"design":"k0","status":"ok","picked":[1e999,null,"rings",44]}',
        '{"i":0,"design":"k0","status":"ok","picked":[[1],null,"rings",44]}',
        '{"i":0,"design":"k0","status":"ok","picked":"1234"}',
        '{"i":0,"design":"k0","status":"fine","picked":[1.5,null,"rings",44]}',
        '{"i":[0],"design":"k0","status":"ok","picked":[1.5,null,"rings",44]}',
        '{"i":0,"design":["k0"],"status":"ok","picked":[1.5,null,"rings",44]}',
        '{"i":0,"design":"k0","status":"failed","reason":{}}',
        "[" * 100_000,
        "null",
    ],
)
def test_a_line_that_no_sweep_wrote_is_damaged(written, line):
    header, *_ = written.read_text().splitlines()
    written.write_text(f"{header}\n{line}\n")
    with pytest.raises(DesignError, match=r"sweep\.jsonl:2: this line is damaged"):
        read(written)


class FullDisk:
    """A file that takes so many bytes more."""

    def __init__(self, file, room):
        self.file, self.room = file, room

    def write(self, data):
        part = data[: self.room]
        self.room -= len(part)
        if not part:
            raise OSError(errno.ENOSPC, "No space left on device")
        return self.file.write(part)

    def fileno(self):
        return self.file.fileno()


def fill(path, room):
    with open_journal(path, HEADER) as (book, _):
        book._file = FullDisk(book._file, room)
        book.add(Outcome(1, "ok", (3.25,)), "k1")


@pytest.mark.parametrize("room", [0, 1, 30])
def test_a_full_disk_keeps_what_was_written_and_says_what_to_do(written, room):
    with pytest.raises(FieldrunError) as caught:
        fill(written, room)
    assert str(caught.value) == (
        f"cannot write {written}: No space left on device; what was found so far is kept in it: make room and give the "
        "same command again, it goes on from there"
    )
    assert read(written) == {0: ("k0", GOOD), 2: ("k2", BAD)}


def test_a_place_that_cannot_be_written_to(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(FieldrunError, match=r"cannot (read|write)"):
        read(tmp_path / "file" / "sweep.jsonl")


def test_it_is_put_on_the_disk_now_and_then(path, monkeypatch):
    synced = []
    monkeypatch.setattr(module.os, "fsync", synced.append)
    monkeypatch.setattr(module, "FLUSH_S", 0.0)
    with open_journal(path, HEADER) as (book, _):
        for index in range(3):
            book.add(Outcome(index, "ok", ()), "k")
    assert len(synced) == 4


@pytest.mark.parametrize("fresh", [False, True])
def test_two_sweeps_at_once_do_not_share_a_journal(written, fresh):
    pytest.importorskip("fcntl")
    with open_journal(written, HEADER):
        before = written.read_bytes()
        told = "another sweep is writing to .* now; wait until it has ended, or name another folder with --out"
        with pytest.raises(FieldrunError, match=told), open_journal(written, HEADER, fresh=fresh):
            pass
        assert written.read_bytes() == before
    assert read(written) == {0: ("k0", GOOD), 2: ("k2", BAD)}
