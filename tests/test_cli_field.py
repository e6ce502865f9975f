"""`fieldrun field` as a user meets it: files, sentences, notes, faults and exit codes."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fieldrun.cli import main
from fieldrun.outputs.file_names import FIELD_FILES


@pytest.fixture
def field(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return lambda *arguments: CliRunner().invoke(main, ["field", *arguments])


@pytest.mark.slow
def test_one_design_leaves_a_folder_and_says_what_it_holds(field):
    result = field("plank-ring", "--heights", "0.5,2", "--radii", "50:65:4", "--angles", "0:60:13")
    assert result.exit_code == 0, result.output
    found = {path.name for path in Path("plank-ring").iterdir()}
    assert found < FIELD_FILES
    assert {"field-gap.pdf", "field-cuts.svg", "field-harmonics.png", "field-section.png", "field-rings.vtu"} < found
    assert not {name for name in found if "difference" in name or "solid" in name or "swept" in name}
    lines = result.stdout.splitlines()
    assert lines[0] == "Plank ring"
    assert lines[1].startswith("The field along the shaft reaches 0.425 T at radius 50 mm")
    assert lines[-1] == "Written to plank-ring: " + ", ".join(sorted(found))
    assert result.stderr.startswith("note: 0.5 mm above the lower magnets is nearer than 1 mm to a magnet's face")
    rows = Path("plank-ring/field-grid.csv").read_text(encoding="utf-8").splitlines()
    assert sum(not row.startswith("#") for row in rows) == 1 + 4 * 13 * 2
    again = field("plank-ring", "--heights", "0.5,2", "--radii", "50:65:4", "--angles", "0:60:13", "-o", "again")
    assert again.exit_code == 0
    for name in found:  # twice the same bytes
        assert Path("plank-ring", name).read_bytes() == Path("again", name).read_bytes(), name


def test_json_is_the_record_and_nothing_else(field):
    result = field("plank-ring", "--no-pictures", "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout) == json.loads(Path("plank-ring/field.json").read_text(encoding="utf-8"))


def test_two_designs(field, design_file, tmp_path):
    design_file("plank-ring", {"magnets.grade": "N45"}, "stronger")
    result = field("plank-ring", "stronger.toml", "-q", "--no-pictures")
    assert result.exit_code == 0, result.output
    assert "stronger differs from plank-ring by at most 0.0" in result.stdout
    head = Path("plank-ring/field-difference.csv").read_text(encoding="utf-8")
    assert "# shows: stronger less plank-ring\n" in head


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (
            ("plank-ring", "plank-ring"),
            "OTHER: is the same design as the first, so that nothing differs; received plank-ring",
        ),
        (
            ("plank-ring", "hut-charger"),
            "OTHER: must have as many poles as the first, 12, for places to correspond; hut-charger has 16",
        ),
        (("plank-ring", "--range", "-1"), "--range: must be above 0 T and finite; received -1"),
        (("plank-ring", "--section-range", "nan"), "--section-range: must be above 0 T and finite; received nan"),
        (
            ("plank-ring", "--heights", "-1"),
            "--heights: below 0 lie the magnets, which the map leaves out; received -1 mm",
        ),
        (
            ("quiet-halbach", "--solid"),
            "--solid: knows alternating discs, blocks and arcs only, not a Halbach array; leave it out",
        ),
        (("plank-ring", "--radii", "5:4"), "--radii: a range has three parts; write values such as 2,4,6 or START:"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_is_left(field, arguments, said, tmp_path):
    result = field(*arguments)
    assert result.exit_code == 2
    assert result.stdout == ""
    first, last = result.stderr.splitlines()
    assert first.startswith(said)
    assert last == "1 fault, nothing was run"
    assert not list(tmp_path.iterdir())


def test_foreign_files_are_left_alone(field):
    Path("plank-ring").mkdir()
    Path("plank-ring", "mine.txt").write_text("mine")
    result = field("plank-ring", "--no-pictures")
    assert result.exit_code == 2
    assert "holds files that are not ours (mine.txt)" in result.stderr
    assert field("plank-ring", "--no-pictures", "--force").exit_code == 0
    assert Path("plank-ring", "mine.txt").read_text() == "mine"
