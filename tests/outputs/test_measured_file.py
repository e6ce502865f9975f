"""`measured.json`: what programs read, finite and with units in the keys, and the folder it lies in."""

import json
import math

import fieldrun
from fieldrun.outputs.file_names import EVERY_FILE, MEASURED_FILES, RECORDS
from fieldrun.outputs.measured_file import measured_dict, measured_text, write_measured

PLAIN = {"schema", "line", "score", "chi_square", "ratio", "ohm_ratio", "strength_ratio", "correlation", "condition"}
UNITS = ("_v", "_a", "_ohm", "_mm", "_t", "_percent", "_rpm", "_hz", "_c", "_deg", "points", "remanence")


def numbers(content, key=""):
    if isinstance(content, dict):
        for name, value in content.items():
            if name != "design":
                yield from numbers(value, name)
    elif isinstance(content, list):
        for value in content:
            yield from numbers(value, key)
    elif isinstance(content, int | float) and not isinstance(content, bool):
        yield key, content


def test_numbers_are_finite_and_their_keys_carry_units(benched):
    found = list(numbers(json.loads(measured_text(benched))))
    assert len(found) > 300
    for key, value in found:
        assert math.isfinite(value)
        assert key in PLAIN or key.endswith(UNITS), key


def test_what_it_says(benched):
    content = measured_dict(benched)
    assert (content["fieldrun"], content["name"]) == (fieldrun.__version__, "hut-charger")
    assert (content["agrees"], content["contradicts"]) == (False, False)
    assert content["explanations"][0]["key"] == "phase_reversed+gap"
    assert content["fits_suppose"] == "phase_reversed"
    assert content["rows"][1]["measured_v"] == 5.16
    assert content["rows"][-1]["temperature_c"] == 17
    assert content["gap"]["drawn_mm"] == 8
    assert content["gap_and_remanence"]["told_apart"] is True
    assert content["scan"]["points"] == 144
    assert {"mesh", "error_estimate", "design_hash"} <= set(content)


def test_the_folder(benched, tmp_path):
    write_measured(benched, tmp_path / "out")
    assert {path.name for path in (tmp_path / "out").iterdir()} == MEASURED_FILES
    assert MEASURED_FILES <= EVERY_FILE
    assert "measured.json" in RECORDS
    first = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    write_measured(benched, tmp_path / "again")
    assert first == {path.name: path.read_bytes() for path in (tmp_path / "again").iterdir()}
    write_measured(benched, tmp_path / "bare", pictures=False)
    assert [path.name for path in (tmp_path / "bare").iterdir()] == ["measured.json"]
