"""Tables and arrays are read back by other means than ours and hold the field to 1e-9 T, with their origin inside."""

import csv
import json

import numpy as np
import pytest

import fieldrun
from fieldrun.outputs.fields.grid import grid_of
from fieldrun.outputs.fields.grid_file import COLUMNS, write_grid_csv, write_grid_npz


@pytest.fixture(scope="module")
def grid(hut):
    return grid_of(hut, np.linspace(0.055, 0.077, 4), np.linspace(0, 0.4, 5), [0.0005, 1 / 300])


def test_the_table_is_field_at(grid, hut, tmp_path):
    write_grid_csv(grid, tmp_path / "grid.csv")
    lines = (tmp_path / "grid.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == grid.points
    r, theta, z, *flux = (np.array([float(row[name]) for row in rows]) for name in COLUMNS)
    assert np.abs(np.array(flux) - hut.field_at(r / 1e3, np.radians(theta), z / 1e3)).max() < 1e-9
    assert (z[:2].tolist(), theta[:2].tolist()) == ([0.5, 3.33333333333], [0, 0])  # height runs fastest


def test_its_head_tells_where_it_comes_from(grid, hut, tmp_path):
    write_grid_csv(grid, tmp_path / "grid.csv")
    head = dict(
        line[2:].split(": ", 1)
        for line in (tmp_path / "grid.csv").read_text(encoding="utf-8").splitlines()
        if line.startswith("# ")
    )
    assert head["fieldrun"] == fieldrun.__version__
    assert head["design_hash"] == hut.design_hash
    assert {"design", "mesh", "error_estimate", "frame"} < set(head)
    assert head["note"].startswith("0.5 mm above the lower magnets is nearer")


def test_arrays_hold_the_same_and_the_harmonics(grid, hut, tmp_path):
    write_grid_npz(grid, tmp_path / "grid.npz")
    with np.load(tmp_path / "grid.npz", allow_pickle=False) as read:
        found = dict(read)
    assert np.stack([found[name] for name in COLUMNS[3:]]) == pytest.approx(grid.b_t, abs=1e-15)
    assert found["r_mm"] / 1e3 == pytest.approx(grid.radii_m)
    assert int(found["pole_pairs"]) == 8
    wave = np.exp(8j * np.outer(found["orders"], np.radians(found["theta_deg"])))
    assert np.einsum("nrz,nt->rtz", found["harmonic_b_z_t"], wave).real == pytest.approx(found["b_z_t"], abs=1e-14)
    about = json.loads(str(found["about"]))
    assert (about["design_hash"], about["fieldrun"]) == (hut.design_hash, fieldrun.__version__)


@pytest.mark.parametrize("write", [write_grid_csv, write_grid_npz])
def test_same_bytes_twice(write, grid, tmp_path):
    write(grid, tmp_path / "one")
    write(grid, tmp_path / "two")
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()
