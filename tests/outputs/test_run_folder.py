"""Everything a run leaves behind can be read by other programs, and says where it comes from."""

import csv
import json
import xml.etree.ElementTree as ET

import matplotlib.image
import meshio
import numpy as np
import pytest

import fieldrun
from fieldrun.design.errors import FieldrunError
from fieldrun.outputs import run_folder
from fieldrun.outputs.file_names import LOAD_FILES, OUR_FILES
from fieldrun.outputs.result_file import about, result_dict
from fieldrun.outputs.run_folder import write_run
from fieldrun.outputs.summary import CAUTION, sentences

PICTURES = ("gap", "section", "winding", "waveform")
PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"


def names(folder):
    return {path.name for path in folder.iterdir()}


def test_all_files_are_there_and_no_other(plank_folder):
    assert names(plank_folder) == OUR_FILES | LOAD_FILES


def test_without_pictures_the_rest_is_there(bundled, tmp_path):
    write_run(bundled("plank-ring"), tmp_path / "bare", pictures=False)
    assert names(tmp_path / "bare") == {"result.json", "summary.txt", "paths.csv", "field.vtu", "report.html"}


def test_pictures_of_an_earlier_run_do_not_outlive_their_numbers(bundled, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "winding.png").touch()
    write_run(bundled("plank-ring"), tmp_path / "out", pictures=False)
    assert "winding.png" not in names(tmp_path / "out")


@pytest.mark.parametrize("name", sorted(OUR_FILES | LOAD_FILES))
def test_every_file_carries_version_hash_mesh_and_error(plank_folder, bundled, name):
    content = (plank_folder / name).read_bytes().decode("utf-8", errors="replace")
    facts = about(bundled("plank-ring"))
    assert facts["design_hash"] in content
    assert fieldrun.__version__ in content
    if name == "result.json":  # here they are numbers under keys of their own
        content = json.loads(content)
        assert f"{content['mesh']['model']}, {content['mesh']['unknowns']} unknowns;" in facts["mesh"]
        assert f"section, {content['mesh']['section']['elements']} elements" in facts["mesh"]
        assert f"{content['field']['error_estimate_percent']:.2g}" == facts["error_estimate"].split()[0]
    else:
        assert facts["mesh"] in content
        assert facts["error_estimate"] in content


def test_the_result_file_is_the_result(plank_folder, bundled):
    assert json.loads((plank_folder / "result.json").read_text()) == result_dict(bundled("plank-ring"))


def test_the_summary_says_it_in_words(plank_folder, bundled):
    plank = bundled("plank-ring")
    lines = (plank_folder / "summary.txt").read_text().splitlines()
    assert lines[0] == "Plank ring"
    assert lines[1 : 1 + len(sentences(plank))] == sentences(plank)
    assert [line for line in lines if line.startswith("Warning: ")] == [f"Warning: {w.text}." for w in plank.warnings]
    assert lines[-2] == CAUTION


def test_other_programs_read_the_section(plank_folder, bundled):
    section = bundled("plank-ring").section
    mesh = meshio.read(plank_folder / "field.vtu")
    assert mesh.points.shape == (len(section.potential), 3)
    assert mesh.point_data["A"] == pytest.approx(section.potential)
    (strength,), (vector,) = mesh.cell_data["B_magnitude"], mesh.cell_data["B"]
    assert len(strength) == 4 * bundled("plank-ring").quality.elements
    assert np.linalg.norm(vector, axis=1) == pytest.approx(strength)
    assert 0.5 < strength.max() < 3


def test_the_path_file_is_a_table_under_its_comments(plank_folder, bundled):
    lines = (plank_folder / "paths.csv").read_text().splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    pieces = bundled("plank-ring").paths
    assert len(rows) == pieces.count + int(pieces.loop.max()) + 1
    assert list(rows[0]) == ["loop", "phase", "r_mm", "theta_deg", "z_mm", "edge"]
    assert {row["edge"] for row in rows} == {"line", "arc", ""}
    assert lines[0].startswith("# fieldrun: ")


@pytest.mark.parametrize("stem", PICTURES)
def test_pictures_are_pictures(plank_folder, stem):
    png = plank_folder / f"{stem}.png"
    assert png.read_bytes().startswith(PNG_SIGNATURE)
    pixels = matplotlib.image.imread(png)
    assert pixels.shape[0] > 500
    assert pixels.shape[1] > 1000
    ink = np.abs(pixels[..., :3] - pixels[0, 0, :3]).max(axis=2) > 0.1
    assert 0.01 < ink.mean() < 0.9
    root = ET.parse(plank_folder / f"{stem}.svg").getroot()  # noqa: S314 - our own file
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    words = "".join(root.itertext())
    assert not {"nan", "NaN", "inf", "None"} & set(words.split())


def test_a_picture_that_fails_leaves_the_old_folder_alone(bundled, tmp_path, monkeypatch):
    write_run(bundled("plank-ring"), tmp_path / "out", pictures=False)
    before = (tmp_path / "out" / "result.json").read_bytes()

    def fail(*_arguments):
        raise MemoryError

    monkeypatch.setattr(run_folder, "_save", fail)
    for name in ("out", "new"):
        with pytest.raises(MemoryError):
            write_run(bundled("plank-ring"), tmp_path / name)
    assert names(tmp_path) == {"out"}
    assert (tmp_path / "out" / "result.json").read_bytes() == before


def test_a_full_disk_is_told_in_one_line(bundled, tmp_path, monkeypatch):
    def full(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(run_folder, "write_vtu", full)
    with pytest.raises(FieldrunError, match=r"cannot write .*out: No space left on device"):
        write_run(bundled("plank-ring"), tmp_path / "out", pictures=False)
    assert names(tmp_path) == set()


def test_two_runs_leave_the_same_bytes(bundled, tmp_path):
    for name in ("one", "two"):
        write_run(bundled("plank-ring"), tmp_path / name, pictures=False)
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name
