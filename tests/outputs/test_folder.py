"""A result folder appears whole or not at all, and holds nobody else's files hostage."""

import itertools
import json
import os
import re
import signal
from pathlib import Path

import pytest

from fieldrun.design.errors import DesignError, FieldrunError
from fieldrun.outputs.file_names import (
    BESIDE,
    COMPARE_FILES,
    EVERY_FILE,
    FORMER_FILES,
    JOURNAL,
    LOAD_FILES,
    OUR_FILES,
    RECORDS,
    REPLACED,
    SWEEP_FILES,
    VERIFY_FILES,
    WIND_FILES,
)
from fieldrun.outputs.folder import (
    check_replaceable,
    earlier_result,
    outdated_by,
    replaced_by,
    whole_folder,
    write_text,
)

NAMES = sorted(OUR_FILES)


def result(folder, name="hut", **more):
    folder.mkdir(exist_ok=True)
    (folder / "result.json").write_text(json.dumps({"name": name, "design_hash": "8f3a", **more}))


def complaint(folder, name="hut", **options):
    with pytest.raises(DesignError) as caught:
        check_replaceable(folder, name, **options)
    (fault,) = caught.value.faults
    assert fault.key == "--out"
    return fault.text


def listing(folder):
    return sorted(path.name for path in folder.iterdir())


def test_new_empty_and_own_folders_may_be_replaced(tmp_path):
    check_replaceable(tmp_path / "new" / "deep", "hut")
    (tmp_path / "empty").mkdir()
    check_replaceable(tmp_path / "empty", "hut")
    result(tmp_path / "hut")
    for name in NAMES[:4]:
        (tmp_path / "hut" / name).touch()
    result(tmp_path / "hut")
    check_replaceable(tmp_path / "hut", "hut")


def test_foreign_files_stand_in_the_way(tmp_path):
    result(tmp_path / "hut")
    (tmp_path / "hut" / "diary.txt").touch()
    assert "holds files that are not ours (diary.txt)" in complaint(tmp_path / "hut")
    for name in ("a", "b", "c"):
        (tmp_path / "hut" / name).touch()
    assert "(a, b, c, ...)" in complaint(tmp_path / "hut")
    check_replaceable(tmp_path / "hut", "hut", force=True)


def test_the_result_of_another_design_stands_in_the_way(tmp_path):
    result(tmp_path / "out", "plank")
    assert "the result of another design, 'plank'" in complaint(tmp_path / "out")
    check_replaceable(tmp_path / "out", "hut", force=True)


@pytest.mark.parametrize("content", ["", "{", "[1]", "{}", '{"name": "hut"}', "[" * 100_000, "\udcff"])
def test_a_result_that_cannot_be_read_is_none(tmp_path, content):
    (tmp_path / "result.json").write_bytes(content.encode(errors="surrogateescape"))
    assert earlier_result(tmp_path, "hut") is None
    assert "no readable result" in complaint(tmp_path)


def test_an_earlier_result_is_read_if_it_is_of_this_design(tmp_path):
    result(tmp_path / "hut", emf={"rms_v_per_krpm": 29.5})
    assert earlier_result(tmp_path / "hut", "hut")["emf"] == {"rms_v_per_krpm": 29.5}
    assert earlier_result(tmp_path / "hut", "plank") is None
    assert earlier_result(tmp_path / "nowhere", "hut") is None


def test_a_comparison_tells_whose_folder_it_is_as_a_result_does(tmp_path):
    (tmp_path / "verify.json").write_text(json.dumps({"name": "hut", "design_hash": "8f3a"}))
    (tmp_path / "verify.png").touch()
    check_replaceable(tmp_path, "hut")
    assert earlier_result(tmp_path, "hut") is None  # a comparison has nothing that a run could have changed
    assert "the result of another design, 'hut'" in complaint(tmp_path, "plank")
    result(tmp_path, "plank")
    for name in ("hut", "plank"):
        assert "the result of another design" in complaint(tmp_path, name)


def test_a_run_keeps_what_others_made_of_the_same_state_of_the_design(tmp_path):
    for record, state in (("verify.json", "8f3a"), ("former.json", "0000")):
        (tmp_path / record).write_text(json.dumps({"name": "hut", "design_hash": state}))
    going = outdated_by(tmp_path, "8f3a")
    assert {"result.json", "power.svg", "former.json", "former.pdf", "measured.json"} <= going
    assert not {"verify.json", "verify.png", "sweep.jsonl"} & going


def test_every_file_of_a_command_has_its_record():
    assert set(BESIDE) <= set(RECORDS)
    assert OUR_FILES.union(WIND_FILES, LOAD_FILES, SWEEP_FILES, {JOURNAL}, *BESIDE.values()) == EVERY_FILE


def test_only_what_is_replaced_goes(tmp_path):
    result(tmp_path / "hut")
    (tmp_path / "hut" / "verify.png").touch()
    with whole_folder(tmp_path / "hut", lambda: VERIFY_FILES) as part:
        (part / "verify.json").touch()
    assert listing(tmp_path / "hut") == ["result.json", "verify.json"]
    with whole_folder(tmp_path / "hut") as part:  # the comparison was with an older answer
        (part / "result.json").touch()
    assert listing(tmp_path / "hut") == ["result.json"]
    assert listing(tmp_path) == ["hut"]


@pytest.mark.parametrize("force", [False, True])
def test_a_file_is_no_folder(tmp_path, force):
    (tmp_path / "hut").touch()
    assert "is a file" in complaint(tmp_path / "hut", force=force)


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize("name", ["result.json", "verify.json", "compare.csv", "power.png"])
def test_a_folder_with_the_name_of_a_file_of_ours_is_refused(tmp_path, name, force):
    (tmp_path / "out" / name).mkdir(parents=True)
    assert f"holds a folder where a file of ours belongs ({name})" in complaint(tmp_path / "out", force=force)


def test_a_folder_that_appears_meanwhile_is_not_deleted(tmp_path):
    """Made after the check, while the answer was computed: it stays where the message says."""
    (tmp_path / "hut" / "result.json").mkdir(parents=True)
    (tmp_path / "hut" / "result.json" / "a.txt").write_text("mine")
    with pytest.raises(FieldrunError, match="files of yours stay in"), whole_folder(tmp_path / "hut") as part:
        (part / "result.json").touch()
    (kept,) = tmp_path.glob(".hut-*/result.json/a.txt")
    assert kept.read_text() == "mine"


@pytest.mark.parametrize("force", [False, True])
def test_nobody_loses_the_folder_he_stands_in(tmp_path, monkeypatch, force):
    (tmp_path / "in" / "deeper").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "in" / "deeper")
    for folder in (Path(), Path(".."), tmp_path / "in"):
        assert "you are standing in" in complaint(folder, force=force)


@pytest.mark.parametrize("length", [250, 300])
def test_a_name_that_no_disk_takes_is_told(tmp_path, length):
    """The shorter one could be; the hidden folder beside it could not."""
    assert "cannot be used: File name too long" in complaint(tmp_path / ("x" * length))
    assert listing(tmp_path) == []


def test_links_in_a_circle_are_told(tmp_path):
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    for folder in (tmp_path / "loop", tmp_path / "loop" / "out"):
        assert re.search("loop.* cannot be used: .*symbolic link", complaint(folder))


def test_a_disk_of_its_own_is_told_before_anything_is_solved(tmp_path, monkeypatch):
    """A container's volume, say: nothing can be renamed to it."""
    (tmp_path / "volume").mkdir()
    monkeypatch.setattr(Path, "is_mount", lambda self: self.name == "volume")
    told = f"volume is a disk of its own and cannot be replaced as a whole; name a folder in it: {tmp_path}/volume/out"
    assert told in complaint(tmp_path / "volume", force=True)
    check_replaceable(tmp_path / "volume" / "out", "hut")


def test_a_folder_comes_whole(tmp_path):
    with whole_folder(tmp_path / "deep" / "er" / "hut") as part:
        (part / "result.json").write_text("{}")
        assert listing(tmp_path / "deep" / "er") == [part.name]
    assert listing(tmp_path / "deep" / "er") == ["hut"]
    assert listing(tmp_path / "deep" / "er" / "hut") == ["result.json"]


def test_an_old_result_goes_at_once_and_whole(tmp_path):
    result(tmp_path / "hut")
    (tmp_path / "hut" / "winding.png").touch()
    with whole_folder(tmp_path / "hut") as part:
        (part / "result.json").write_text("new")
        assert listing(tmp_path / "hut") == ["result.json", "winding.png"]
    assert listing(tmp_path / "hut") == ["result.json"]
    assert (tmp_path / "hut" / "result.json").read_text() == "new"
    assert listing(tmp_path) == ["hut"]


def test_foreign_files_stay_where_they_are(tmp_path):
    result(tmp_path / "hut")
    (tmp_path / "hut" / "notes").mkdir()
    (tmp_path / "hut" / "notes" / "diary.txt").write_text("mine")
    with whole_folder(tmp_path / "hut") as part:
        (part / "result.json").write_text("new")
    assert listing(tmp_path / "hut") == ["notes", "result.json"]
    assert (tmp_path / "hut" / "notes" / "diary.txt").read_text() == "mine"
    assert listing(tmp_path) == ["hut"]


@pytest.mark.parametrize("raised", [ValueError, KeyboardInterrupt, SystemExit])
def test_whatever_is_raised_inside_leaves_all_as_it_was(tmp_path, raised):
    result(tmp_path / "hut")

    def fail(folder):
        with whole_folder(folder) as part:
            (part / "result.json").write_text("half")
            raise raised

    for folder in ("hut", "new"):
        with pytest.raises(raised):
            fail(tmp_path / folder)
    assert listing(tmp_path) == ["hut"]
    assert earlier_result(tmp_path / "hut", "hut")


@pytest.mark.parametrize("raised", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_the_old_result_comes_back_if_the_new_one_cannot_be_put_in_place(tmp_path, monkeypatch, raised):
    result(tmp_path / "hut")
    (tmp_path / "hut" / "diary.txt").touch()
    rename = Path.rename

    def refuse_the_new_one(self, target):
        if (self / "new").exists():
            raise raised
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", refuse_the_new_one)
    wanted = FieldrunError if isinstance(raised, OSError) else KeyboardInterrupt
    with pytest.raises(wanted), whole_folder(tmp_path / "hut") as part:
        (part / "new").touch()
    assert listing(tmp_path) == ["hut"]
    assert listing(tmp_path / "hut") == ["diary.txt", "result.json"]


def test_foreign_files_that_cannot_be_moved_are_not_thrown_away(tmp_path, monkeypatch):
    result(tmp_path / "hut")
    (tmp_path / "hut" / "diary.txt").write_text("mine")
    rename = Path.rename

    def refuse_the_diary(self, target):
        if self.name == "diary.txt":
            raise OSError(13, "Permission denied")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", refuse_the_diary)
    with pytest.raises(FieldrunError, match="files of yours stay in") as caught, whole_folder(tmp_path / "hut") as part:
        (part / "result.json").write_text("new")
    kept = Path(str(caught.value).split("stay in ")[1].partition(":")[0])
    assert (kept / "diary.txt").read_text() == "mine"
    assert (tmp_path / "hut" / "result.json").read_text() == "new"


def test_a_link_to_a_folder_stays_a_link(tmp_path):
    result(tmp_path / "real")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    with whole_folder(tmp_path / "link") as part:
        (part / "paths.csv").touch()
    assert (tmp_path / "link").is_symlink()
    assert listing(tmp_path / "real") == ["paths.csv"]


def test_a_place_that_cannot_be_is_told(tmp_path):
    (tmp_path / "file").touch()
    with (
        pytest.raises(FieldrunError, match=r"cannot write .*file.hut: (Not a directory|File exists)"),
        whole_folder(tmp_path / "file" / "hut"),
    ):
        pytest.fail("nothing can be written here")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_parent_that_may_not_be_written_to_is_told(tmp_path):
    tmp_path.chmod(0o555)
    try:
        with pytest.raises(FieldrunError, match=r"cannot write .*: Permission denied"), whole_folder(tmp_path / "hut"):
            pytest.fail("nothing can be written here")
    finally:
        tmp_path.chmod(0o755)


def test_a_parent_that_refuses_is_told(tmp_path, monkeypatch):
    """The same for root, to whom no folder refuses anything."""

    def refuse(self, *_arguments, **_options):
        raise PermissionError(13, "Permission denied")

    (tmp_path / "hut").mkdir()
    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(FieldrunError, match=r"cannot write .*hut: Permission denied"), whole_folder(tmp_path / "hut"):
        pytest.fail("nothing can be written here")


@pytest.mark.skipif(os.name != "posix", reason="file modes are a unix matter")
def test_others_may_read_it_as_they_may_any_new_folder(tmp_path):
    with whole_folder(tmp_path / "hut"):
        pass
    (tmp_path / "plain").mkdir()
    assert (tmp_path / "hut").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_text_is_utf8_with_unix_line_ends(tmp_path):
    write_text(tmp_path / "t", "Hütte\nα\n")
    assert (tmp_path / "t").read_bytes() == "Hütte\nα\n".encode()


def test_a_comparison_says_whose_folder_it_is(tmp_path):
    (tmp_path / "compare.json").write_text(json.dumps({"name": "plank", "design_hash": "8f3a"}))
    (tmp_path / "compare.csv").touch()
    check_replaceable(tmp_path, "plank")
    assert "the result of another design, 'plank'" in complaint(tmp_path)


def test_commands_leave_each_others_files_of_one_design(tmp_path):
    assert replaced_by(COMPARE_FILES, tmp_path / "new", "hut") == REPLACED
    result(tmp_path)
    assert replaced_by(COMPARE_FILES, tmp_path, "hut") == COMPARE_FILES
    (tmp_path / "verify.json").write_text(json.dumps({"name": "plank", "design_hash": "8f3a"}))
    assert replaced_by(COMPARE_FILES, tmp_path, "hut") == REPLACED


def test_what_another_command_leaves_meanwhile_stays(tmp_path):
    """Both began with no folder at all; the second to be done keeps what the first has left."""
    folder = tmp_path / "hut"
    with whole_folder(folder, lambda: replaced_by(FORMER_FILES, folder, "hut")) as part:
        (part / "former.json").write_text(json.dumps({"name": "hut", "design_hash": "8f3a"}))
        with whole_folder(folder, lambda: outdated_by(folder, "8f3a")) as other:
            result(other)
    assert listing(folder) == ["former.json", "result.json"]
    assert listing(tmp_path) == ["hut"]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="a process of its own is killed")
@pytest.mark.parametrize("before", [1, 2, 3, 4])
def test_killed_before_any_rename_nothing_of_other_commands_is_lost(tmp_path, before):
    result(tmp_path / "hut")
    for name in ("verify.json", JOURNAL, "diary.txt"):
        (tmp_path / "hut" / name).write_text(name)
    child = os.fork()
    if child == 0:
        killed_before_rename(before, tmp_path / "hut")
    assert os.waitpid(child, 0)[1] in {0, signal.SIGKILL}
    check_replaceable(tmp_path / "hut", "hut", force=True)
    assert listing(tmp_path) == ["hut"]
    for name in ("verify.json", JOURNAL, "diary.txt"):
        assert (tmp_path / "hut" / name).read_text() == name


def killed_before_rename(before, folder):
    """Write a result, and end like a machine whose plug is pulled before the first, second, ... rename."""
    rename, calls = os.rename, itertools.count(1)

    def pulled(source, target):
        if next(calls) == before:
            os.kill(os.getpid(), signal.SIGKILL)
        rename(source, target)

    os.rename = pulled
    with whole_folder(folder, lambda: REPLACED - {"verify.json"}) as part:
        (part / "result.json").touch()
    os._exit(0)


def test_a_sweeps_journal_says_whose_folder_it_is_and_stays(tmp_path):
    header = json.dumps({"sweep": 1, "name": "plank", "design_hash": "8f3a"})
    (tmp_path / JOURNAL).write_text(header + '\n{"i":0}\n{"torn')
    check_replaceable(tmp_path, "plank")
    assert "the result of another design, 'plank'" in complaint(tmp_path)
    with whole_folder(tmp_path) as part:
        (part / "result.json").touch()
    assert (tmp_path / JOURNAL).read_text().startswith(header)
