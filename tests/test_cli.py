"""The commands as a user meets them: what is printed where, what is left behind, and with which exit code."""

import dataclasses
import functools
import json
import os
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import fieldrun
from fieldrun import cli
from fieldrun.design.errors import MissingError, SolveError
from fieldrun.design.examples import example_names, example_path
from fieldrun.design.starter_answers import QUESTIONS
from fieldrun.field import gmsh_mesh
from fieldrun.generator import machine
from fieldrun.outputs import doctor, folder
from fieldrun.outputs.file_names import LOAD_FILES, OUR_FILES
from fieldrun.studies import verify
from fieldrun.studies.ways import RINGS, SOLID, WAYS, Way

PICTURES = {name for name in OUR_FILES if name.endswith((".svg", ".png"))}
FIELDRUN = [sys.executable, "-c", "from fieldrun.cli import main; main(prog_name='fieldrun')"]


@pytest.fixture
def fieldrun_(tmp_path, monkeypatch):
    """Call a command in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return lambda *arguments, **options: CliRunner().invoke(cli.main, list(arguments), **options)


@pytest.fixture
def quick(fieldrun_):
    """Run without pictures."""
    return lambda *arguments, **options: fieldrun_("run", *arguments, "--no-pictures", **options)


def names(path):
    return {entry.name for entry in Path(path).iterdir()}


def spoilt(path, *swaps):
    """The hut charger with pieces of its text replaced."""
    text = example_path("hut-charger").read_text(encoding="utf-8")
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new, 1)
    Path(path).write_text(text, encoding="utf-8")
    return path


@pytest.mark.slow
def test_run_tells_first_and_leaves_a_folder(fieldrun_):
    told = fieldrun_("run", "plank-ring")
    assert told.exit_code == 0
    lines = told.stdout.splitlines()
    assert lines[0] == "Plank ring"
    assert lines[1].startswith("With nothing connected each phase gives ")
    assert lines[-1] == "Written to plank-ring: " + ", ".join(sorted(OUR_FILES | LOAD_FILES))
    assert names("plank-ring") == OUR_FILES | LOAD_FILES
    assert told.stderr == ""  # nothing to warn of, nothing left unused
    assert "Traceback" not in told.output


def test_run_takes_a_file_and_a_folder(quick, tmp_path):
    path = Path("deep") / "my hut.toml"
    path.parent.mkdir()
    path.write_text(example_path("plank-ring").read_text(encoding="utf-8"), encoding="utf-8")
    assert quick(str(path)).exit_code == 0
    assert names("my hut") == OUR_FILES - PICTURES
    assert quick(str(path), "-o", "out/here").exit_code == 0
    assert names("out/here") == OUR_FILES - PICTURES
    assert names(tmp_path) == {"deep", "my hut", "out"}


def test_a_second_run_stands_beside_the_folder_of_the_first(quick):
    """The folder bears the example's name; that must not keep the example from being found again."""
    assert quick("plank-ring").exit_code == 0
    again = quick("plank-ring")
    assert again.exit_code == 0
    assert "Since the last run" not in again.stdout


def test_a_second_run_of_an_edited_design_says_what_changed(fieldrun_, quick):
    fieldrun_("new", "my.toml", "--from", "plank-ring")
    quick("my.toml")
    text = Path("my.toml").read_text()
    Path("my.toml").write_text(text.replace("copper_mm = 0.5", "copper_mm = 0.6").replace("layers = 4", "layers = 3"))
    told = " ".join(quick("my.toml").stdout.split())
    assert re.search(r"Since the last run: EMF was [\d.]+ V per 1000 rpm, now [\d.]+ V per 1000 rpm; ", told)
    assert "resistance was 3.37 ohm, now " in told


def test_a_design_file_without_an_ending_keeps_its_name(quick):
    Path("hut").write_text(example_path("plank-ring").read_text(encoding="utf-8"), encoding="utf-8")
    assert quick("hut").exit_code == 0
    assert names(".") == {"hut", "hut-result"}
    assert quick("hut").exit_code == 0


def test_json_is_one_object_and_nothing_else(quick):
    told = quick("plank-ring", "--json")
    assert told.exit_code == 0
    assert json.loads(told.stdout) == json.loads(Path("plank-ring/result.json").read_text())
    assert told.stdout.startswith("{")


def test_quiet_tells_the_sentences_only(quick):
    told = quick("plank-ring", "-q")
    assert "With nothing connected" in told.stdout
    assert "EMF per phase" not in told.stdout
    assert "Written to" not in told.stdout


def test_verbose_tells_harmonics(quick):
    assert "EMF, V s/rad" in quick("plank-ring", "-v").stdout
    assert "EMF, V s/rad" not in quick("plank-ring").stdout


def ignored_thickness(name):
    path = Path(name)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('backing = "none" ', 'backing = "none"\nbacking_mm = 5 '), encoding="utf-8")


def test_notes_go_to_stderr(fieldrun_, quick):
    fieldrun_("new", "my.toml", "--from", "plank-ring")
    ignored_thickness("my.toml")
    told = quick("my.toml")
    assert 'note: rotor.backing_mm is ignored: backing = "none" has no thickness.' in told.stderr.splitlines()
    assert "note:" not in told.stdout


def test_all_faults_at_once_and_nothing_is_run(quick):
    spoilt("bad.toml", ("count = 16 ", "count = 15 "), ("thickness_mm", "thicknes_mm"), ('"N42"', '"N43"'))
    told = quick("bad.toml")
    assert told.exit_code == 2
    assert told.stdout == ""
    *faults, last = told.stderr.splitlines()
    assert len(faults) >= 3
    assert all(line.startswith("bad.toml:") for line in faults)
    assert any("magnets.thicknes_mm: unknown key; did you mean thickness_mm?" in line for line in faults)
    assert last == f"{len(faults)} faults, nothing was run"
    assert names(".") == {"bad.toml"}


def test_one_fault_is_one_fault(quick):
    spoilt("bad.toml", ("gap_mm = 8 ", "gap_mm = 8 mm "))
    told = quick("bad.toml")
    assert told.exit_code == 2
    assert told.stderr.splitlines()[-1] == "1 fault, nothing was run"
    assert told.stderr.startswith("bad.toml:14: rotor.gap_mm: ")


def test_a_missing_file_is_told(quick):
    told = quick("nowhere.toml")
    assert told.exit_code == 2
    assert told.stderr.splitlines() == ["nowhere.toml: there is no such file", "1 fault, nothing was run"]
    assert names(".") == set()


@pytest.mark.parametrize(
    "arguments", [("run",), ("run", "a", "b"), ("fly",), ("run", "x", "--fast"), ("new", "a", "b")]
)
def test_wrong_usage_is_two(fieldrun_, arguments):
    told = fieldrun_(*arguments)
    assert told.exit_code == 2
    assert told.stderr.startswith("Usage: ")


def test_foreign_files_are_refused_and_stay_with_force(quick):
    Path("plank-ring").mkdir()
    Path("plank-ring/diary.txt").write_text("mine")
    told = quick("plank-ring")
    assert told.exit_code == 2
    assert told.stderr.startswith(
        "--out: plank-ring holds files that are not ours (diary.txt); name another folder, or "
    )
    assert names("plank-ring") == {"diary.txt"}
    assert quick("plank-ring", "--force").exit_code == 0
    assert names("plank-ring") == OUR_FILES - PICTURES | {"diary.txt"}


@pytest.mark.parametrize("command", ["run", "verify", "compare"])
@pytest.mark.parametrize("options", [(), ("--force",)], ids=["plain", "forced"])
def test_a_folder_that_bears_the_name_of_a_file_of_ours_stays(fieldrun_, command, options):
    Path("out/result.json").mkdir(parents=True)
    Path("out/result.json/a.txt").write_text("mine")
    told = fieldrun_(command, "plank-ring", "-o", "out", "--no-pictures", *options)
    assert told.exit_code == 2
    assert told.stderr.startswith("--out: out holds a folder where a file of ours belongs (result.json); move it away")
    assert Path("out/result.json/a.txt").read_text() == "mine"


def test_another_designs_result_is_refused_and_not_compared_with(fieldrun_, quick):
    quick("plank-ring", "-o", "out")
    fieldrun_("new", "my.toml", "--from", "plank-ring")
    Path("my.toml").write_text(Path("my.toml").read_text().replace("layers = 4", "layers = 2"))
    told = quick("my.toml", "-o", "out")
    assert told.exit_code == 2
    assert "the result of another design, 'plank-ring'" in told.stderr
    forced = quick("my.toml", "-o", "out", "--force")
    assert forced.exit_code == 0
    assert "Since the last run" not in forced.stdout
    assert json.loads(Path("out/result.json").read_text())["name"] == "my"


def test_the_folder_one_stands_in_is_refused(quick):
    told = quick("plank-ring", "-o", ".", "--force")
    assert told.exit_code == 2
    assert "you are standing in" in told.stderr


def test_a_place_that_cannot_be_written_to_is_two(quick):
    Path("file").touch()
    told = quick("plank-ring", "-o", "file/out")
    assert told.exit_code == 2
    assert (
        told.stderr
        == f"--out: {Path('file').resolve()} is a file; name a folder with --out\n1 fault, nothing was run\n"
    )


def fail_with(monkeypatch, error):
    def fail(design):
        raise error

    monkeypatch.setattr(machine, "run", fail)


def test_a_solution_that_is_not_reached_is_one(quick, monkeypatch):
    fail_with(monkeypatch, SolveError("the steel's flux did not settle"))
    told = quick("plank-ring")
    assert (told.exit_code, told.stderr) == (1, "fieldrun: the steel's flux did not settle\n")
    assert names(".") == set()


def test_something_missing_is_four(quick, monkeypatch):
    fail_with(monkeypatch, MissingError("gmsh lacks a system library"))
    told = quick("plank-ring")
    assert (told.exit_code, told.stderr) == (4, "fieldrun: gmsh lacks a system library\n")


def test_a_fault_of_ours_is_one_line_and_a_log(quick, monkeypatch, tmp_path):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    fail_with(monkeypatch, ZeroDivisionError("by nothing"))
    told = quick("plank-ring")
    assert told.exit_code == 1
    (line,) = told.stderr.splitlines()
    assert line.startswith("fieldrun: ZeroDivisionError: by nothing (details in ")
    log = Path(line.split("details in ")[1].split(";")[0])
    assert "Traceback" in log.read_text()
    assert "ZeroDivisionError: by nothing" in log.read_text()
    assert names(".") == {log.name}


def test_verbose_shows_the_traceback(quick, monkeypatch):
    fail_with(monkeypatch, ZeroDivisionError("by nothing"))
    told = quick("plank-ring", "-v")
    assert told.exit_code == 1
    assert isinstance(told.exception, ZeroDivisionError)


def test_an_interruption_is_130_and_leaves_nothing_half_written(quick, monkeypatch):
    quick("plank-ring")
    before = Path("plank-ring/result.json").read_bytes()

    def interrupted(part, target, replaced):
        raise KeyboardInterrupt

    monkeypatch.setattr(folder, "_put_in_place", interrupted)
    told = quick("plank-ring")
    assert told.exit_code == 130
    assert told.stderr.splitlines()[-1] == "fieldrun: interrupted; nothing half-written was left"
    assert names(".") == {"plank-ring"}
    assert Path("plank-ring/result.json").read_bytes() == before


@pytest.fixture
def quickly(monkeypatch):
    """Leave out the way that takes seconds."""
    ways = tuple(way for way in WAYS if way is not SOLID)
    monkeypatch.setattr(verify, "verify", functools.partial(verify.verify, ways=ways))


@pytest.mark.slow
def test_verify_tells_the_verdict_and_every_way(fieldrun_):
    told = fieldrun_("verify", "plank-ring")
    assert told.exit_code == 0
    assert told.stderr == ""
    lines = told.stdout.splitlines()
    assert lines[0] == "Plank ring"
    assert lines[1].startswith("The default answer (rings) holds: its EMF is ")
    for way in WAYS:
        assert [line for line in lines if line.startswith(f"{way.name}  ")]
    assert lines[-1] == "Written to plank-ring: verify.json, verify.png, verify.svg"
    assert names("plank-ring") == {"verify.json", "verify.png", "verify.svg"}


def test_verify_as_json_is_one_object_and_nothing_else(fieldrun_, quickly):
    told = fieldrun_("verify", "plank-ring", "--json", "--no-pictures")
    assert told.exit_code == 0
    content = json.loads(told.stdout)
    assert content == json.loads(Path("plank-ring/verify.json").read_text())
    assert {row["key"] for row in content["ways"]} >= {"hand", "layered", "sections", "k1", "rings"}
    assert names("plank-ring") == {"verify.json"}


def test_a_comparison_stands_beside_the_runs_until_the_design_is_edited(fieldrun_, quick, quickly):
    quick("plank-ring")
    assert fieldrun_("verify", "plank-ring", "--no-pictures").exit_code == 0
    assert names("plank-ring") == OUR_FILES - PICTURES | {"verify.json"}
    again = quick("plank-ring")
    assert again.exit_code == 0
    assert names("plank-ring") == OUR_FILES - PICTURES | {"verify.json"}
    assert "Since the last run" not in again.stdout
    text = example_path("plank-ring").read_text(encoding="utf-8")
    edited = Path("plank-ring.toml")
    edited.write_text(text.replace("thickness_mm = ", "thickness_mm = 1", 1), encoding="utf-8")
    assert quick("plank-ring.toml").exit_code == 0
    assert names("plank-ring") == OUR_FILES - PICTURES


def three_dimensions_say(monkeypatch, share):
    """Let a judge find so much of the default's field."""

    def whole(job, maps):
        ring = maps["rings"]
        return dataclasses.replace(ring, b_r_t=share * ring.b_r_t, b_z_t=share * ring.b_z_t)

    judge = Way("solid", "solid", whole, lambda _: "Nothing.")
    monkeypatch.setattr(verify, "verify", functools.partial(verify.verify, ways=(RINGS, judge)))


@pytest.mark.parametrize("options", [(), ("--json",), ("-q",)])
def test_a_default_that_fails_its_check_is_three_and_written_all_the_same(fieldrun_, monkeypatch, options):
    three_dimensions_say(monkeypatch, 0.97)
    told = fieldrun_("verify", "plank-ring", "--no-pictures", *options)
    assert told.exit_code == 3
    assert told.stderr == ""
    assert "The default answer (rings) fails: its EMF is 3.1 % above" in told.stdout
    assert json.loads(Path("plank-ring/verify.json").read_text())["holds"] is False


def test_a_default_that_holds_its_check_is_zero(fieldrun_, monkeypatch):
    three_dimensions_say(monkeypatch, 0.99)
    told = fieldrun_("verify", "plank-ring", "--no-pictures", "-q")
    assert told.exit_code == 0
    assert told.stdout.splitlines()[1].startswith("The default answer (rings) holds: its EMF is 1.0 % above")
    assert "Written to" not in told.stdout


def test_verify_does_not_need_gmsh(fieldrun_, monkeypatch, quickly):
    def missing():
        raise MissingError("gmsh lacks a system library")

    monkeypatch.setattr(gmsh_mesh, "_loaded", missing)
    assert fieldrun_("verify", "plank-ring", "--no-pictures").exit_code == 0


def test_verify_refuses_as_run_does(fieldrun_, quickly):
    spoilt("bad.toml", ("thickness_mm", "thicknes_mm"))
    told = fieldrun_("verify", "bad.toml")
    assert (told.exit_code, told.stdout) == (2, "")
    assert told.stderr.splitlines()[-1].endswith("nothing was run")
    Path("plank-ring").mkdir()
    Path("plank-ring/diary.txt").write_text("mine")
    assert fieldrun_("verify", "plank-ring", "--no-pictures").exit_code == 2
    assert fieldrun_("verify", "plank-ring", "--no-pictures", "--force").exit_code == 0
    assert names("plank-ring") == {"verify.json", "diary.txt"}


def test_verify_tells_notes_too(fieldrun_, quickly):
    fieldrun_("new", "my.toml", "--from", "plank-ring")
    ignored_thickness("my.toml")
    told = fieldrun_("verify", "my.toml", "--no-pictures", "--json")
    assert told.stderr.startswith("note: rotor.backing_mm is ignored")
    assert json.loads(told.stdout)["notes"]


def test_new_lists_the_examples(fieldrun_):
    told = fieldrun_("new")
    assert told.exit_code == 0
    listed = told.stdout.splitlines()
    assert [line.split()[0] for line in listed] == list(example_names())
    assert all(len(line.split()) > 5 for line in listed)
    assert names(".") == set()


@pytest.mark.parametrize("example", [None, *example_names()])
def test_new_copies_an_example(fieldrun_, example):
    told = fieldrun_("new", "my.toml", *(["--from", example] if example else []))
    assert (told.exit_code, told.stdout) == (0, "my.toml written; now: fieldrun run my.toml\n")
    assert Path("my.toml").read_bytes() == example_path(example or "hut-charger").read_bytes()


def test_the_command_to_go_on_with_can_be_typed(fieldrun_):
    assert fieldrun_("new", "my hut.toml").stdout.endswith("now: fieldrun run 'my hut.toml'\n")


def test_new_keeps_what_is_there(fieldrun_):
    Path("my.toml").write_text("mine")
    told = fieldrun_("new", "my.toml")
    assert told.exit_code == 2
    assert told.stderr.splitlines()[0] == "FILE: my.toml exists; give another name or --force"
    assert Path("my.toml").read_text() == "mine"
    assert fieldrun_("new", "my.toml", "--force").exit_code == 0
    assert Path("my.toml").read_text() != "mine"


def test_new_refuses_examples_nobody_knows(fieldrun_):
    told = fieldrun_("new", "my.toml", "--from", "hut")
    assert told.exit_code == 2
    assert told.stderr.startswith("--from: no bundled example is called hut; there are hut-charger, ")
    assert names(".") == set()


def test_new_refuses_to_ask_and_to_copy(fieldrun_):
    told = fieldrun_("new", "my.toml", "--ask", "--from", "hut-charger")
    assert told.exit_code == 2
    assert told.stderr.startswith("--ask: goes without --from")


def test_new_says_where_it_cannot_write(fieldrun_):
    told = fieldrun_("new", "no/such/folder.toml")
    assert (told.exit_code, told.stderr) == (
        1,
        "fieldrun: cannot write no/such/folder.toml: No such file or directory\n",
    )


def test_ask_with_every_default_writes_a_design_that_runs(fieldrun_, quick):
    told = fieldrun_("new", "--ask", input="\n" * len(QUESTIONS))
    assert told.exit_code == 0
    assert all(question.text in told.stdout for question in QUESTIONS)
    assert told.stdout.endswith("my-charger.toml written; now: fieldrun run my-charger.toml\n")
    assert tomllib.loads(Path("my-charger.toml").read_text())["magnets"]["count"] == 16
    run = quick("my-charger.toml")
    assert run.exit_code == 0
    assert "starts to charge at" in run.stdout


def test_ask_asks_again_until_it_understands(fieldrun_):
    answers = ["big", "30 x 20 x 10", "seven", "15", "12", "N99", "N38", "0", "2", "0", "0.6", "0"]
    told = fieldrun_("new", "mine.toml", "--ask", input="\n".join(answers) + "\n")
    assert told.exit_code == 0
    complaints = told.stderr.splitlines()
    assert len(complaints) == 4
    assert complaints[0] == (
        "must be two numbers for a disc or three for a block, such as 20 x 6 or 30 x 20 x 10; received big"
    )
    written = tomllib.loads(Path("mine.toml").read_text())
    assert (written["magnets"]["shape"], written["magnets"]["count"], written["magnets"]["grade"]) == (
        "block",
        12,
        "N38",
    )
    assert "load" not in written


def test_questions_cut_short_leave_nothing(fieldrun_):
    told = fieldrun_("new", "mine.toml", "--ask", input="20 x 6\n16\n")
    assert told.exit_code == 2
    assert "--ask: the answers end before '" in told.stderr
    assert told.stderr.endswith("nothing was written\n1 fault, nothing was run\n")
    assert names(".") == set()


def test_doctor_is_content_where_the_tests_run(fieldrun_):
    told = fieldrun_("doctor")
    assert told.exit_code == 0
    assert told.stdout.startswith(f"fieldrun {fieldrun.__version__}, Python 3.")
    assert "numpy" in told.stdout


def test_doctor_misses_what_a_run_needs(fieldrun_, monkeypatch):
    monkeypatch.setattr(doctor, "NEEDED", {"numpy": "numpy", "no-such-library": "no_such_library"})
    told = fieldrun_("doctor")
    assert told.exit_code == 4
    assert "  no-such-library MISSING: pip install no-such-library" in told.stdout


def test_doctor_does_not_need_gmsh(fieldrun_, monkeypatch):
    def missing():
        raise MissingError("gmsh lacks a system library")

    monkeypatch.setattr(gmsh_mesh, "_loaded", missing)
    assert fieldrun_("doctor").exit_code == 0


def conforms(value, schema, place=""):
    """Complaints of a value about the few words of JSON Schema that ours is written in."""
    if "$ref" in schema or "allOf" in schema:
        raise AssertionError(f"{place}: this check does not know references")
    if "anyOf" in schema:
        branches = [list(conforms(value, part, place)) for part in schema["anyOf"]]
        return [] if any(not branch for branch in branches) else branches[0]
    kinds = {"object": dict, "string": str, "integer": int, "number": (int, float), "array": list, "boolean": bool}
    if "type" in schema and (not isinstance(value, kinds[schema["type"]]) or isinstance(value, bool)):
        return [f"{place}: {value!r} is no {schema['type']}"]
    found = []
    if "const" in schema and value != schema["const"]:
        found.append(f"{place}: {value!r} is not {schema['const']!r}")
    if "enum" in schema and value not in schema["enum"]:
        found.append(f"{place}: {value!r} is none of {schema['enum']}")
    if isinstance(value, int | float) and not schema.get("minimum", value) <= value <= schema.get("maximum", value):
        found.append(f"{place}: {value!r} is out of range")
    if isinstance(value, dict):
        known = schema["properties"]
        found += [f"{place}.{key} is missing" for key in schema.get("required", ()) if key not in value]
        found += [f"{place}.{key} is unknown" for key in value if key not in known]
        found += [text for key in value if key in known for text in conforms(value[key], known[key], f"{place}.{key}")]
    if isinstance(value, list):
        found += [text for item in value for text in conforms(item, schema["items"], place)]
    return found


@pytest.fixture
def schema(fieldrun_):
    told = fieldrun_("schema")
    assert told.exit_code == 0
    return json.loads(told.stdout)


@pytest.mark.parametrize("example", example_names())
def test_the_schema_takes_the_examples(schema, example):
    content = tomllib.loads(example_path(example).read_text(encoding="utf-8"))
    assert schema["$schema"].startswith("https://json-schema.org/")
    assert conforms(content, schema) == []


@pytest.mark.parametrize(
    ("table", "key", "value"),
    [
        ("magnets", "thicknes_mm", 6),
        ("magnets", "shape", "round"),
        ("magnets", "thickness_mm", 0.006),
        ("magnets", "count", "16"),
        ("rotor", "gap_mm", "narrow"),
        ("rotor", "faces", 3),
        ("load", "speeds_rpm", ["fast"]),
        ("wire", "kind", None),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(schema, table, key, value):
    content = tomllib.loads(example_path("hut-charger").read_text(encoding="utf-8"))
    content[table].pop(key, None)
    if value is not None:
        content[table][key] = value
    (complaint,) = conforms(content, schema)
    assert f"{table}.{key}" in complaint


def test_version_and_help(fieldrun_):
    assert fieldrun_("--version").stdout == f"fieldrun, version {fieldrun.__version__}\n"
    for arguments in (("--help",), ("-h",), ("run", "-h"), ("new", "--help")):
        told = fieldrun_(*arguments)
        assert told.exit_code == 0
        assert told.stdout.startswith("Usage: ")


def process(*arguments, cwd, **options):
    environment = {key: value for key, value in os.environ.items() if key not in {"FORCE_COLOR", "COLUMNS"}}
    environment |= options.pop("env", {})
    return subprocess.run(
        [*FIELDRUN, *arguments], cwd=cwd, env=environment, capture_output=True, check=False, timeout=120, **options
    )


def test_help_imports_nothing_heavy(tmp_path):
    code = (
        "import sys; from fieldrun.cli import main; main(['--help'], standalone_mode=False); "
        "print(*sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    told = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert told.stdout.startswith("Usage: ")
    heavy = {"numpy", "scipy", "skfem", "meshio", "matplotlib", "gmsh", "pydantic", "rich"}
    assert not heavy & set(told.stderr.split())
    assert "click" in told.stderr.split()


def test_without_pictures_nothing_is_loaded_to_draw_them(tmp_path):
    code = (
        "import sys, fieldrun.outputs.run_folder, fieldrun.outputs.report.context, fieldrun.outputs.report.page, "
        "fieldrun.outputs.screen, fieldrun.outputs.former_file; assert 'matplotlib' not in sys.modules, 'loaded'"
    )
    subprocess.run([sys.executable, "-c", code], cwd=tmp_path, check=True)


def test_a_folder_with_spaces_and_umlauts_and_a_pipe_that_knows_few_letters(tmp_path):
    place = tmp_path / "Meine Hütte am Öd"
    place.mkdir()
    text = example_path("plank-ring").read_text(encoding="utf-8").replace("Plank ring", "Hütte 風")
    (place / "für mich.toml").write_text(text, encoding="utf-8")
    told = process(
        "run",
        "für mich.toml",
        "--no-pictures",
        "-o",
        "Ergebnis für mich",
        cwd=place,
        env={"PYTHONIOENCODING": "latin-1"},
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout.decode("latin-1").startswith("Hütte \\u98a8\n")
    assert names(place / "Ergebnis für mich") == OUR_FILES - PICTURES
    machine_readable = process(
        "run", "für mich.toml", "--json", "--no-pictures", cwd=place, env={"PYTHONIOENCODING": "latin-1"}
    )
    assert json.loads(machine_readable.stdout)["design"]["title"] == "Hütte 風"


def test_into_a_pipe_go_no_escape_codes(tmp_path):
    told = process("run", "plank-ring", "--no-pictures", "-v", cwd=tmp_path, env={"TERM": "xterm-256color"})
    assert told.returncode == 0
    assert b"\x1b" not in told.stdout + told.stderr


@pytest.mark.parametrize(("environment", "codes"), [({}, True), ({"NO_COLOR": "1"}, False)])
def test_a_terminal_gets_codes_unless_it_asks_for_none(tmp_path, environment, codes):
    pty = pytest.importorskip("pty", reason="pseudo-terminals are a unix matter")
    try:
        ours, theirs = pty.openpty()
    except OSError as error:
        pytest.skip(f"no pseudo-terminal to be had here (a bare chroot has no /dev/pts): {error}")
    told = subprocess.Popen(
        [*FIELDRUN, "run", "plank-ring", "--no-pictures", "-q"],
        cwd=tmp_path,
        env={**{k: v for k, v in os.environ.items() if k != "NO_COLOR"}, "TERM": "xterm", **environment},
        stdout=theirs,
        stderr=subprocess.DEVNULL,
    )
    os.close(theirs)
    text = b""
    while chunk := _read(ours):
        text += chunk
    os.close(ours)
    assert told.wait(timeout=60) == 0
    assert b"Plank ring" in text
    assert (b"\x1b" in text) is codes


def _read(terminal):
    try:
        return os.read(terminal, 65536)
    except OSError:  # the other end is closed
        return b""


def test_a_reader_that_leaves_is_no_fault(tmp_path):
    """`fieldrun run plank-ring | head -1`"""
    reading, writing = os.pipe()
    os.close(reading)
    told = subprocess.run(
        [*FIELDRUN, "run", "plank-ring", "--no-pictures"],
        cwd=tmp_path,
        env={name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"},
        stdout=writing,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    os.close(writing)
    assert told.returncode == 1
    assert all(line.startswith(("warning: ", "note: ")) for line in told.stderr.splitlines())
    assert names(tmp_path / "plank-ring") == OUR_FILES - PICTURES


def test_tolerances_are_told_when_asked_for(quick):
    told = quick("plank-ring", "--tolerance")
    assert told.exit_code == 0
    words = " ".join(told.stdout.split())
    assert "Of 20 machines built to these tolerances 18 give between " in words
    assert "the height of the winding above the magnets matters most." in words
    content = json.loads(Path("plank-ring/result.json").read_text())["tolerance"]
    assert (content["seed"], content["samples"], content["gap_mm"]) == (1, 2000, 0.3)
    again = json.loads(quick("plank-ring", "--tolerance", "--json").stdout)
    assert again["tolerance"] == content
    assert "Of 20 machines" not in quick("plank-ring").stdout
    assert "tolerance" not in json.loads(Path("plank-ring/result.json").read_text())


def test_an_impossible_tolerance_is_a_fault_of_its_line_and_nothing_is_run(fieldrun_, quick):
    fieldrun_("new", "my.toml", "--from", "plank-ring")
    with Path("my.toml").open("a") as file:
        file.write("\n[tolerance]\ngap_mm = 0.6\n")
    line = len(Path("my.toml").read_text().splitlines())
    told = quick("my.toml", "--tolerance")
    assert told.exit_code == 2
    assert told.stderr == (
        f"my.toml:{line}: tolerance.gap_mm: in 1 machine of 40 the winding would touch: it has 1.00 mm to spare; "
        "must be at most 0.5; received 0.6, or give the winding more room\n1 fault, nothing was run\n"
    )
    assert names(".") == {"my.toml"}
    assert quick("my.toml").exit_code == 0


@pytest.mark.slow
def test_a_design_with_a_wind_is_told_what_to_change(quick):
    told = quick("hut-charger")
    assert told.exit_code == 0
    words = " ".join(told.stdout.split())
    assert "Best single change: thicker wire, fewer rounds (wire.copper_mm = 0.71" in words
    assert "To charge from " in words
    assert " thinner wire, more rounds " in words
    content = json.loads(Path("hut-charger/result.json").read_text())["output"]["wind"]["changes"]
    assert content["best"] == "thicker-wire"
    assert "Best single change: " in Path("hut-charger/summary.txt").read_text()
    silent = quick("hut-charger", "--no-advice")
    assert "Best single change" not in silent.stdout
    assert "changes" not in json.loads(Path("hut-charger/result.json").read_text())["output"]["wind"]


@pytest.mark.slow
def test_advice_and_a_wanted_wind_when_asked_for(quick):
    told = quick("plank-ring", "--advice", "--json")
    assert (
        json.loads(told.stdout)["output"]["changes"]["best"] == "thicker-magnets"
    )  # steel behind brings more, and overheats
    words = " ".join(quick("hut-charger", "-q", "--cut-in", "1.9").stdout.split())
    assert "To charge from 1.9 m/s on, wind 52 rounds per phase instead of 44 " in words


@pytest.mark.parametrize(("wind", "said"), [("0", "not in the range"), *((w, f"received {w}") for w in ("nan", "inf"))])
def test_a_wanted_wind_that_is_none(quick, wind, said):
    wrong = quick("hut-charger", "--cut-in", wind)
    assert wrong.exit_code == 2
    assert "--cut-in" in wrong.stderr
    assert said in wrong.stderr
