"""What killed commands leave beside their folder is put back or taken away; what living ones hold is left alone."""

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from fieldrun.outputs import beside
from fieldrun.outputs.beside import tidy, worked_in
from fieldrun.outputs.folder import check_replaceable, whole_folder

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no folder can be locked")

AT_WORK = """
import sys, time
from pathlib import Path
from fieldrun.outputs.folder import whole_folder
with whole_folder(Path("out")) as part:
    (part / "result.json").write_text("half")
    print(part.name, flush=True)
    time.sleep(60)
"""


def listing(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def at_work(tmp_path):
    """A process that is filling `out`, and the name of its hidden folder."""
    path = {"PYTHONPATH": str(Path(__file__).parents[2])}
    process = subprocess.Popen(
        [sys.executable, "-c", AT_WORK], cwd=tmp_path, stdout=subprocess.PIPE, text=True, env=os.environ | path
    )
    yield process, process.stdout.readline().strip()
    process.kill()
    process.wait()
    process.stdout.close()


def abandoned(folder, kind, *files):
    """A folder as a killed command leaves it beside `out`."""
    path = folder / f".out-0123abcd.{kind}"
    path.mkdir()
    for name in files:
        (path / name).write_text("earlier")
    return path


def test_what_a_living_command_fills_is_left_and_goes_once_it_was_killed(tmp_path, at_work):
    process, name = at_work
    tidy(tmp_path / "out")
    assert listing(tmp_path / name) == ["result.json"]
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert listing(tmp_path) == [name]
    tidy(tmp_path / "out")
    assert listing(tmp_path) == []


def test_every_command_tidies_before_it_looks_at_its_folder(tmp_path):
    abandoned(tmp_path, "part", "result.json")
    check_replaceable(tmp_path / "out", "hut")
    assert listing(tmp_path) == []


def test_an_earlier_result_that_was_being_replaced_stands_again(tmp_path):
    abandoned(tmp_path, "old", "result.json", "diary.txt")
    abandoned(tmp_path, "part", "result.json")
    tidy(tmp_path / "out")
    assert listing(tmp_path) == ["out"]
    assert listing(tmp_path / "out") == ["diary.txt", "result.json"]


def test_files_of_the_users_come_back_into_the_new_result(tmp_path):
    old = abandoned(tmp_path, "old", "result.json", "diary.txt")
    (old / "notes").mkdir()
    with whole_folder(tmp_path / "out") as part:
        (part / "result.json").write_text("new")
    tidy(tmp_path / "out")
    assert listing(tmp_path) == ["out"]
    assert listing(tmp_path / "out") == ["diary.txt", "notes", "result.json"]
    assert (tmp_path / "out" / "result.json").read_text() == "new"


def test_a_sweeps_journal_comes_back_too(tmp_path):
    abandoned(tmp_path, "old", "result.json", "sweep.jsonl")
    (tmp_path / "out").mkdir()
    tidy(tmp_path / "out")
    assert listing(tmp_path) == ["out"]
    assert listing(tmp_path / "out") == ["sweep.jsonl"]


def test_one_comes_into_its_place_while_the_next_waits(tmp_path, monkeypatch):
    """And not for ever: who holds the place for hours has nothing to do with us."""
    order = []

    def second():
        with beside.alone_in(tmp_path):
            order.append("second")

    waiting = threading.Thread(target=second)
    with beside.alone_in(tmp_path):
        waiting.start()
        waiting.join(0.1)
        order.append("first")
    waiting.join()
    assert order == ["first", "second"]
    monkeypatch.setattr(beside, "PATIENCE_S", 0.05)
    with beside.alone_in(tmp_path), beside.alone_in(tmp_path):
        order.append("both")
    assert order[2:] == ["both"]


def test_a_file_of_the_users_that_is_there_again_keeps_both(tmp_path):
    old = abandoned(tmp_path, "old", "diary.txt", "photo.jpg")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "diary.txt").write_text("later")
    tidy(tmp_path / "out")
    assert listing(old) == ["diary.txt", "photo.jpg"]
    assert (tmp_path / "out" / "diary.txt").read_text() == "later"


@pytest.mark.parametrize(
    "name", [".out-0123abcd", ".out-0123abcd.part.txt", ".outer-0123abcd.part", "out-0123abcd.part"]
)
def test_names_that_are_not_ours_are_left(tmp_path, name):
    (tmp_path / name).mkdir()
    tidy(tmp_path / "out")
    assert listing(tmp_path) == [name]


def test_a_link_of_such_a_name_is_not_followed(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "diary.txt").touch()
    (tmp_path / ".out-0123abcd.part").symlink_to(tmp_path / "mine")
    tidy(tmp_path / "out")
    assert listing(tmp_path / "mine") == ["diary.txt"]


def test_without_locks_nothing_is_taken_to_be_abandoned(tmp_path, monkeypatch):
    import fcntl

    def none(*_):
        raise OSError(38, "Function not implemented")

    abandoned(tmp_path, "part", "result.json")
    monkeypatch.setattr(fcntl, "flock", none)
    tidy(tmp_path / "out")
    with whole_folder(tmp_path / "out") as part:
        (part / "result.json").touch()
    assert listing(tmp_path) == [".out-0123abcd.part", "out"]


def test_a_folder_that_is_taken_away_before_it_is_locked_is_made_anew(tmp_path, monkeypatch):
    locked, made = beside._locked, []

    def too_late(folder, *, shared):
        made.append(folder)
        if len(made) == 1:
            folder.rmdir()
        if len(made) == 2:
            raise BlockingIOError
        return locked(folder, shared=shared)

    monkeypatch.setattr(beside, "_locked", too_late)
    with worked_in(tmp_path / "out") as part:
        assert part == made[2]
        assert part.is_dir()
