"""A folder that may be read and not written, files that may not be read, a folder that is gone: told, with the cure."""

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun.cli import main
from fieldrun.design.errors import FieldrunError
from fieldrun.design.examples import example_path
from fieldrun.outputs.folder import whole_folder, write_text

pytestmark = pytest.mark.skipif(os.name != "posix", reason="file modes are a unix matter")

HUT = example_path("hut-charger")

REFUSED = [
    ["run", "hut.toml"],
    ["sweep", "hut.toml", "--vary", "rotor.gap_mm=8,9", "--jobs", "1"],
    ["former", "hut.toml"],
    ["report", "hut.toml"],
    ["field", "hut.toml"],
    ["compare", "hut.toml"],
    ["verify", "hut.toml"],
    ["measured", "hut.toml", "readings.csv"],
    ["estimates", "hut.toml"],
    ["run", "hut.toml", "-o", "deep/er/out"],
    ["run", "hut.toml", "-o", "earlier"],
]
"""Commands into a folder that may not be written to."""

UNREAD = {
    "secret.toml": ["run", "secret.toml"],
    "locked/hut.toml": ["run", "locked/hut.toml"],
    "secret.csv: rotor.backing": ["run", "steel.toml"],
    "secret.csv": ["run", "path.toml"],
    "secret.csv    ": ["run", "wind.toml"],
    "secret.msh: magnets.section_mesh": ["run", "mesh.toml"],
    "secret.csv ": ["measured", "hut.toml", "secret.csv", "-o", "open/out"],
    "secret.csv  ": ["measured", "hut.toml", "readings.csv", "--scan", "secret.csv", "-o", "open/out"],
    "secret.csv   ": ["sweep", "hut.toml", "--table", "secret.csv"],
}
"""What may not be read, by what is named first; blanks only tell them apart."""

OTHERS = [["new", "mine.toml"], ["new", "locked/mine.toml"], ["run", "hut.toml", "-o", "locked/out"]]


@pytest.fixture(scope="module")
def told():
    """What every command says, and with which code it ends; all of them in one process."""
    commands = [*REFUSED, *UNREAD.values(), *OTHERS]
    with tempfile.TemporaryDirectory() as folder:  # pytest's own are closed to everybody else
        prepare(Path(folder))
        script = str(Path(__file__).with_name("nobody.py"))
        path = {"PYTHONPATH": str(Path(__file__).parents[2]), "OPENBLAS_NUM_THREADS": "1"}
        words = [sys.executable, script, json.dumps(commands)]
        done = subprocess.run(words, cwd=folder, capture_output=True, text=True, env=os.environ | path, check=False)
        left = sorted(path.name for path in Path(folder).iterdir())
        for path in [Path(folder), *(path for path in Path(folder).iterdir() if path.is_dir())]:
            path.chmod(0o755)
    assert done.returncode == 0, done.stderr
    assert [name for name in left if name.startswith(".") or name in {"hut", "mine.toml", "deep"}] == []
    return {json.dumps(c): json.loads(line) for c, line in zip(commands, done.stdout.splitlines(), strict=True)}


def prepare(folder):
    """Designs that name a file which nobody may read, in a folder in which nobody may write."""
    text = HUT.read_text(encoding="utf-8")
    for name in ("readings", "scan"):
        shutil.copy(HUT.with_name(f"hut-charger-{name}.csv"), folder / f"{name}.csv")
    designs = {
        "hut": text,
        "secret": text,
        "steel": re.sub(r"^backing = .*$", 'backing = "secret.csv"', text, flags=re.MULTILINE),
        "mesh": text.replace("[magnets]", '[magnets]\nsection_mesh = "secret.msh"'),
        "path": re.sub(r"\[winding\][^\[]*", '[winding]\nphases = 3\nshape = "path"\nfile = "secret.csv"\n\n', text),
        "wind": re.sub(r"^mean_m_s = .*$", 'record = "secret.csv"', text, flags=re.MULTILINE),
    }
    for name, content in designs.items():
        (folder / f"{name}.toml").write_text(content, encoding="utf-8")
    for name in ("secret.csv", "secret.msh"):
        (folder / name).write_text("b_t,h_a_per_m\n0,0\n1,100\n", encoding="utf-8")
    for name in ("earlier", "locked", "open"):
        (folder / name).mkdir()
    shutil.copy(HUT, folder / "locked" / "hut.toml")
    for name in ("secret.toml", "secret.csv", "secret.msh", "locked"):
        (folder / name).chmod(0)
    (folder / "earlier").chmod(0o555)
    (folder / "open").chmod(0o777)
    folder.chmod(0o555)


@pytest.mark.slow
@pytest.mark.parametrize("command", REFUSED, ids=lambda words: words[0])
def test_a_folder_that_may_not_be_written_to_is_told_before_anything_is_solved(told, command):
    one = told[json.dumps(command)]
    assert re.fullmatch(
        r"--out: you may not write in /\S+; name a folder of your own with --out\n1 fault, nothing was run\n",
        one["said"],
    ), one["said"]
    assert one["code"] == 2


@pytest.mark.slow
@pytest.mark.parametrize("named", UNREAD, ids=lambda text: text.strip())
def test_files_that_may_not_be_read_are_named(told, named):
    one = told[json.dumps(UNREAD[named])]
    cure = r"allow it to be read \(chmod \+r\), or take a copy of your own"
    line = rf"(/\S+/)?{re.escape(named.strip())}: cannot be (read|opened): Permission denied; {cure}"
    assert re.search(rf"^{line}$", one["said"], re.MULTILINE), one["said"]
    assert re.search(r"\n\d faults?, nothing was run\n$", one["said"])
    assert one["code"] == 2


@pytest.mark.slow
@pytest.mark.parametrize("file", ["mine.toml", "locked/mine.toml"])
def test_a_new_design_that_cannot_be_written_is_told(told, file):
    one = told[json.dumps(["new", file])]
    cure = "name a file in a folder of your own"
    assert one == {"code": 1, "said": f"fieldrun: cannot write {file}: Permission denied; {cure}\n"}


@pytest.mark.slow
def test_a_folder_that_may_not_be_entered_is_told(told):
    one = told[json.dumps(OTHERS[-1])]
    text = "--out: locked/out cannot be used: Permission denied; name another folder with --out\n"
    assert one == {"code": 2, "said": text + "1 fault, nothing was run\n"}


def test_a_folder_that_vanishes_while_it_is_written_to_is_told(tmp_path):
    def write():
        with whole_folder(tmp_path / "gone" / "out") as part:
            write_text(part / "result.json", "half")
            shutil.rmtree(tmp_path / "gone")
            write_text(part / "summary.txt", "half")

    with pytest.raises(FieldrunError, match=r"cannot write .*/gone/out: No such file or directory"):
        write()
    assert list(tmp_path.iterdir()) == []


def test_a_run_whose_folder_vanishes_says_so(tmp_path, monkeypatch):
    """Whoever takes away the folder that one stands in does so while the answer is worked out."""
    from fieldrun.generator import machine

    (tmp_path / "stand").mkdir()
    monkeypatch.chdir(tmp_path / "stand")
    answer = machine.run

    def taken_away(design):
        result = answer(design)
        (tmp_path / "stand").rmdir()
        return result

    monkeypatch.setattr(machine, "run", taken_away)
    done = CliRunner().invoke(main, ["run", "plank-ring", "--no-pictures", "--no-advice"])
    assert (done.exit_code, "Traceback" in done.output) == (1, False)
    assert re.fullmatch(r"fieldrun: cannot write \S*plank-ring: No such file or directory\n", done.stderr), done.stderr
