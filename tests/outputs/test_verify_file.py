"""`verify.json` for programs: units in the keys, finite numbers, what does not apply absent."""

import json
import math

import matplotlib.image
import pytest

import fieldrun
from fieldrun.outputs import verify_file
from fieldrun.outputs.verify_file import verify_dict, verify_text, write_verify
from fieldrun.outputs.verify_table import verdict

UNITS = ("_t", "_mm", "_s", "_percent", "_v_s_per_rad", "_v_per_krpm")
PLAIN = {"schema", "rounds_per_phase", "judged", "holds"}


def numbers(content, key=""):
    """Every number with the key it stands under."""
    if isinstance(content, dict):
        for name, value in content.items():
            if name != "design":  # in the file's own units
                yield from numbers(value, name)
    elif isinstance(content, list):
        for value in content:
            yield from numbers(value, key)
    elif isinstance(content, int | float):
        yield key, content


def test_numbers_are_finite_and_their_keys_carry_units(compared):
    found = list(numbers(json.loads(verify_text(compared()))))
    assert len(found) > 100
    for key, value in found:
        assert math.isfinite(value)
        assert key in PLAIN or key.endswith(UNITS), key


def test_what_it_says(compared):
    content = verify_dict(compared())
    assert (content["fieldrun"], content["name"], content["design_hash"]) == (
        fieldrun.__version__,
        "hut-charger",
        "8f3a",
    )
    assert content["design"]["magnets"]["count"] == 16
    assert (content["default"], content["best"], content["judged"], content["holds"]) == ("rings", "solid", True, True)
    assert content["verdict"] == verdict(compared())
    rows = {row["key"]: row for row in content["ways"]}
    assert list(rows) == ["hand", "layered", "sections", "k1", "rings", "solid"]
    assert rows["rings"]["emf_per_round_rms_v_s_per_rad"] == pytest.approx(0.005015)
    assert rows["rings"]["emf_per_round_rms_v_per_krpm"] == pytest.approx(0.005015 * 1000 * math.pi / 30)
    assert rows["rings"]["emf_difference_percent"] == pytest.approx(0.3)
    assert rows["rings"]["b1_difference_percent"] == pytest.approx(0.3)
    assert len(rows["k1"]["radius_mm"]) == len(rows["k1"]["b1_over_radius_t"]) == 61
    assert rows["solid"]["radius_mm"][0] == pytest.approx(50)


def test_an_absence_has_a_reason_and_no_numbers(compared):
    content = verify_dict(compared({"rings": 0.0, "solid": "does not apply: too round"}))
    assert content["ways"][1] == {"key": "solid", "name": "solid", "reason": "does not apply: too round"}
    assert (content["best"], content["judged"], content["holds"]) == ("rings", False, True)


def test_no_share_of_nothing_is_told(compared):
    row = verify_dict(compared(emf=0.0))["ways"][0]
    assert "emf_difference_percent" not in row
    assert "b1_difference_percent" in row


def test_nan_never_leaves(compared):
    with pytest.raises(ValueError, match="Out of range float"):
        verify_text(compared(emf=math.nan))


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_file_and_pictures(compared, tmp_path):
    write_verify(compared(), tmp_path / "hut")
    assert names(tmp_path / "hut") == ["verify.json", "verify.png", "verify.svg"]
    assert json.loads((tmp_path / "hut" / "verify.json").read_text()) == verify_dict(compared())
    pixels = matplotlib.image.imread(tmp_path / "hut" / "verify.png")
    assert pixels.shape[0] > 900
    for name in names(tmp_path / "hut"):
        content = (tmp_path / "hut" / name).read_bytes().decode("utf-8", errors="replace")
        assert "8f3a" in content
        assert fieldrun.__version__ in content
        assert "The default answer (rings) holds" in content


def test_without_pictures_old_ones_go(compared, tmp_path):
    write_verify(compared(), tmp_path / "hut")
    write_verify(compared(), tmp_path / "hut", pictures=False)
    assert names(tmp_path / "hut") == ["verify.json"]


def result(folder, name):
    folder.mkdir()
    (folder / "result.json").write_text(json.dumps({"name": name, "design_hash": "8f3a"}))
    (folder / "winding.png").write_text("picture")
    (folder / "diary.txt").write_text("mine")


def test_a_run_of_the_same_design_stays_beside(compared, tmp_path):
    result(tmp_path / "hut", "hut-charger")
    write_verify(compared(), tmp_path / "hut", pictures=False)
    assert names(tmp_path / "hut") == ["diary.txt", "result.json", "verify.json", "winding.png"]
    assert (tmp_path / "hut" / "winding.png").read_text() == "picture"


def test_a_run_of_another_design_goes_and_foreign_files_stay(compared, tmp_path):
    result(tmp_path / "hut", "plank-ring")
    write_verify(compared(), tmp_path / "hut", pictures=False)
    assert names(tmp_path / "hut") == ["diary.txt", "verify.json"]


def test_a_picture_that_fails_leaves_all_as_it_was(compared, tmp_path, monkeypatch):
    result(tmp_path / "hut", "hut-charger")

    def fail(*_arguments):
        raise MemoryError

    monkeypatch.setattr(verify_file, "_draw", fail)
    with pytest.raises(MemoryError):
        write_verify(compared(), tmp_path / "hut")
    assert names(tmp_path) == ["hut"]
    assert names(tmp_path / "hut") == ["diary.txt", "result.json", "winding.png"]
