"""Odd names, odd surroundings, hostile titles, no room: commands say what they can and leave nothing half-written."""

import html
import json
import os
import re
import resource
import subprocess
import sys
import threading
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from click.testing import CliRunner

from fieldrun.cli import main
from fieldrun.design.examples import example_path
from fieldrun.design.readings import read_readings
from fieldrun.field.gmsh_mesh import gmsh_state
from fieldrun.outputs.folder import whole_folder, write_text

RUN = ["run", "plank-ring", "--no-pictures", "--no-advice", "-o", "out"]

HOSTILE = [
    "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>&amp;",
    "]]></text></svg><!-- --> {{7*7}} {% raw %} ${x} %s",
    "../../etc/passwd\\..\\con",
    "\x1b[2J\x1b]0;owned\x07\x00\x0b\u202e[bold]x[/bold]\r\nsecond line",
    "-" * 3000,
]


STEERS = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e]")


def invoked(*words):
    return CliRunner().invoke(main, list(words))


def started(words, folder, env, **streams):
    """A process of its own with these surroundings and no others."""
    path = {"PATH": os.environ["PATH"], "PYTHONPATH": str(Path(__file__).parents[2])}
    options = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | streams
    return subprocess.Popen([sys.executable, "-m", "fieldrun", *words], cwd=folder, env=path | env, **options)


@pytest.fixture
def plank(tmp_path, monkeypatch):
    """Write the plank ring under a name, and stand beside it."""
    monkeypatch.chdir(tmp_path)

    def write(name, title=None):
        text = example_path("plank-ring").read_text(encoding="utf-8")
        Path(name).write_text(text if title is None else text.replace('"Plank ring"', json.dumps(title)), "utf-8")
        return name

    return write


def test_a_name_that_is_not_utf8_is_written_out(plank):
    name = plank(os.fsdecode(b"M\xfcller.toml"))
    done = invoked("run", name, "--no-pictures", "-v")
    assert done.exit_code == 0, done.output
    content = json.loads((Path(name).with_suffix("") / "result.json").read_text(encoding="utf-8"))
    assert content["name"] == "M\\udcfcller"
    assert invoked("run", name, "--no-pictures", "-v").exit_code == 0  # it is known as its own result again


def test_readings_with_such_a_name_are_named(plank, monkeypatch):
    name = os.fsdecode(b"r\xfc.csv")
    plank("plank.toml")
    Path(name).write_text("speed_rpm,kind,value\n200,open_phase_rms_v,4.9\n")
    assert read_readings(Path(name)).file == name
    done = invoked("measured", "plank.toml", name, "--no-pictures", "-v", "-o", "out")
    assert done.exit_code == 0, done.output
    assert json.loads(Path("out/measured.json").read_text(encoding="utf-8"))["readings"] == "r\\udcfc.csv"


def test_a_name_that_no_disk_takes_is_a_missing_file(plank):
    long = "x" * 300
    assert re.match("x+: there is no such file, and no bundled example of that name", invoked("run", long).stderr)
    assert invoked("run", f"{long}.toml").stderr.endswith(
        "cannot be read: File name too long\n1 fault, nothing was run\n"
    )
    for words in (["run", long], ["run", f"{long}.toml"], ["measured", "plank-ring", f"{long}.csv"], ["run", "a\0b"]):
        assert invoked(*words, "-v").exit_code == 2


@pytest.mark.slow
@pytest.mark.parametrize("title", ["".join(HOSTILE[:4]), HOSTILE[4]], ids=["letters", "long"])
def test_a_hostile_title_is_only_text(plank, title):
    done = invoked("run", plank("hostile.toml", title), "-v", "-o", "out", "--no-pictures", "--no-advice")
    assert done.exit_code == 0, done.output
    assert not STEERS.search(done.stdout)
    assert sorted(path.name for path in Path().iterdir()) == ["hostile.toml", "out"]
    page = Path("out/report.html").read_text(encoding="utf-8")
    assert "<script>alert" not in page
    assert "<img src=x" not in page
    assert not STEERS.search(page.replace("\n", ""))
    assert same_letters(html.unescape(re.search(r"<title>(.*?)</title>", page, re.DOTALL)[1]), title)
    assert json.loads(Path("out/result.json").read_text(encoding="utf-8"))["design"]["title"] == title


def same_letters(shown, title):
    """Whether a title is shown from its beginning, but for what steers and for blanks."""
    shown, title = ("".join(STEERS.sub("", text).split()) for text in (shown, title))
    return shown[:20] == title[:20]


@pytest.mark.slow
def test_drawings_of_a_hostile_title_are_sound(plank):
    """SVG is XML, which holds neither loose brackets nor letters that steer."""
    done = invoked("former", plank("hostile.toml", "".join(HOSTILE[:4])), "-v", "-o", "out")
    assert done.exit_code == (0 if gmsh_state()[0] else 4), done.output
    drawn = list(Path("out").glob("*.svg"))
    assert len(drawn) > 1
    for file in drawn:
        assert not ET.parse(file).findall(".//{*}script")  # noqa: S314 - our own file


@pytest.mark.parametrize(
    "command", [RUN, ["former", "plank-ring", "-o", "out"], ["report", "plank-ring", "-o", "out", "--no-pictures"]]
)
def test_a_disk_that_is_full_in_the_middle_leaves_nothing(tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (12_000, hard))
    try:
        done = invoked(*command, "-v")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert done.stderr.endswith(f"fieldrun: cannot write {tmp_path / 'out'}: File too large\n")
    assert done.exit_code == 1
    assert list(tmp_path.iterdir()) == []


def test_two_at_once_leave_one_of_the_two_whole(tmp_path):
    """Both write a hundred times: what stands there afterwards is of one of them, and nothing is left beside it."""
    told = []

    def write(name):
        for _ in range(100):
            try:
                with whole_folder(tmp_path / "out") as part:
                    write_text(part / "result.json", name)
                    write_text(part / "summary.txt", name)
            except Exception as error:  # noqa: BLE001 - told to the test
                told.append(error)

    both = [threading.Thread(target=write, args=[name]) for name in ("one", "two")]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join()
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert len({path.read_text() for path in (tmp_path / "out").iterdir()}) == 1
    assert {type(error).__name__ for error in told} <= {"FieldrunError"}


SURROUNDINGS = [{"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}]


@pytest.mark.slow
@pytest.mark.parametrize("env", SURROUNDINGS, ids=lambda env: "-".join(env.values()))
def test_no_home_no_locale_and_a_folder_with_blanks_and_umlauts(env, tmp_path):
    folder = tmp_path / "Übung mit Leerzeichen"
    folder.mkdir()
    (folder / "Müller Brett.toml").write_bytes(example_path("plank-ring").read_bytes())
    process = started(["run", "Müller Brett.toml"], folder, env)
    said, complained = process.communicate()
    assert process.returncode == 0, complained.decode()
    assert said.startswith(b"Plank ring\n")
    names = {path.name for path in (folder / "Müller Brett").iterdir()}
    assert {"result.json", "report.html", "winding.png"} <= names


@pytest.mark.slow
@pytest.mark.parametrize("words", [RUN, ["schema"], ["doctor"]], ids=lambda words: words[-1])
def test_a_reader_that_has_left_is_no_fault_of_ours(words, tmp_path):
    reading, writing = os.pipe()
    os.close(reading)
    process = started(words, tmp_path, {}, stdout=writing)
    os.close(writing)
    _, complained = process.communicate()
    assert complained == b""
    assert process.returncode in {0, 1}


@pytest.mark.slow
def test_streams_that_are_closed_are_not_written_to(tmp_path):
    line = f'"{sys.executable}" -m fieldrun {" ".join(RUN)}'
    for closed in (">&-", "2>&-", ">&- 2>&-"):
        done = subprocess.run(["sh", "-c", f"{line} {closed}"], cwd=tmp_path, capture_output=True, check=False)
        assert (done.returncode, done.stderr) == (0, b"")
    assert (tmp_path / "out" / "result.json").exists()


def test_questions_to_nobody_end_like_those_cut_short(tmp_path):
    line = f'"{sys.executable}" -m fieldrun new --ask mine.toml <&-'
    env = os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])}
    done = subprocess.run(["sh", "-c", line], cwd=tmp_path, capture_output=True, text=True, env=env, check=False)
    assert done.returncode == 2
    assert done.stderr.endswith("; nothing was written\n1 fault, nothing was run\n")
    assert list(tmp_path.iterdir()) == []


FULL = Path("/dev/full")


@pytest.mark.skipif(not FULL.exists(), reason="linux has it")
@pytest.mark.parametrize(
    "words", [["--help"], ["--version"], ["schema"], [*RUN, "--json"]], ids=lambda words: words[-1]
)
def test_an_output_that_is_full_is_told_and_nothing_more(words, tmp_path):
    with FULL.open("w") as full:
        process = started(words, tmp_path, {}, stdout=full)
        _, complained = process.communicate()
    assert complained == b"fieldrun: what it says cannot be written: No space left on device\n"
    assert process.returncode == 1


@pytest.mark.skipif(not FULL.exists(), reason="linux has it")
def test_where_nothing_can_be_said_only_the_exit_code_tells(tmp_path):
    with FULL.open("w") as full:
        process = started(["--help"], tmp_path, {}, stdout=full, stderr=full)
        assert process.wait() == 1


@pytest.mark.parametrize("library", ["click", "numpy"])
def test_an_interruption_while_libraries_are_loaded_says_so(library, tmp_path):
    """A library of that name that presses Ctrl-C, found before the true one."""
    (tmp_path / f"{library}.py").write_text("import os, signal, time\nos.kill(os.getpid(), signal.SIGINT)\n")
    path = os.pathsep.join([str(tmp_path), str(Path(__file__).parents[2])])
    process = started(RUN, tmp_path, {"PYTHONPATH": path})
    said, complained = process.communicate()
    assert (said, complained) == (b"", b"fieldrun: interrupted; nothing half-written was left\n")
    assert process.returncode == 130
