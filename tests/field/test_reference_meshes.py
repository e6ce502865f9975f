"""The meshes that come with the project fit their designs, do what their outlines promise, and can be made anew.

If a bundled design has changed: run `python meshes/recipes.py` and carry its lengths into meshes/pole_shoe.py.
"""

import importlib.util
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from fieldrun.design.model import Magnets, Rotor
from fieldrun.design.read import read_design
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.mesh import SectionMesh
from fieldrun.field.mesh_file import read_section_mesh
from fieldrun.field.solve import mean_section_field

MESHES = Path(__file__).parents[2] / "meshes"
EXAMPLES = Path(__file__).parents[2] / "fieldrun" / "design" / "examples"
ORDERS = np.array([1, 3, 5])
OF_DESIGN = {
    "hut_charger_chamfered": "hut-charger",
    "hut_charger_rounded": "hut-charger",
    "hut_charger_stepped": "hut-charger",
    "quiet_halbach_whole_pole": "quiet-halbach",
}


def machine(example: str) -> tuple[Magnets, Rotor]:
    design = read_design(EXAMPLES / f"{example}.toml")
    return design.magnets, design.rotor


def mid_gap(magnets: Magnets, rotor: Rotor) -> np.ndarray:
    assert rotor.gap_m
    return gap_amplitudes(mean_section_field(magnets, rotor), [rotor.gap_m / 2], ORDERS)[1][:, 0]


def recipes() -> ModuleType:
    spec = importlib.util.spec_from_file_location("recipes", MESHES / "recipes.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def mean_shape(mesh: SectionMesh) -> float:
    """Mean of the triangles' least sine over that of 60 degrees: 0 for flat ones, 1 for even ones."""
    corners = mesh.mesh.p[:, mesh.mesh.t].transpose(2, 1, 0)
    out, back = np.roll(corners, -1, axis=1) - corners, np.roll(corners, 1, axis=1) - corners
    area = np.abs(out[:, :, 0] * back[:, :, 1] - out[:, :, 1] * back[:, :, 0])
    sine = area / (np.linalg.norm(out, axis=2) * np.linalg.norm(back, axis=2))
    assert sine.shape[1] == 3
    return float(np.mean(sine.min(axis=1))) / np.sin(np.pi / 3)


def test_every_mesh_of_the_folder_is_known_here() -> None:
    assert sorted(path.stem for path in MESHES.glob("*.msh")) == sorted(OF_DESIGN)


@pytest.mark.parametrize("name", OF_DESIGN)
def test_it_fits_its_design(name: str) -> None:
    magnets, rotor = machine(OF_DESIGN[name])
    section, mesh = read_section_mesh(MESHES / f"{name}.msh", magnets, rotor)
    assert section.width == ("full pole" if name.endswith("whole_pole") else "half pole")
    assert len(mesh.region) < 1000
    assert mean_shape(mesh) > 0.8


def test_taking_magnet_away_takes_field_away() -> None:
    magnets, rotor = machine("hut-charger")
    plain = mid_gap(magnets, rotor)[0].real
    cut = {
        name: mid_gap(replace(magnets, section_mesh=str(MESHES / f"hut_charger_{name}.msh")), rotor)[0].real
        for name in ("chamfered", "rounded", "stepped")
    }
    # a rounding of 2 mm takes (1 - pi/4) 4 mm2 away, a chamfer of 1.5 mm 1.1 mm2, the step 6 mm2
    assert plain > cut["rounded"] > cut["chamfered"] > cut["stepped"] > 0.9 * plain


def test_a_whole_pole_of_plain_magnets_says_what_the_template_says() -> None:
    magnets, rotor = machine("quiet-halbach")
    own = mid_gap(replace(magnets, section_mesh=str(MESHES / "quiet_halbach_whole_pole.msh")), rotor)
    plain = mid_gap(magnets, rotor)
    assert np.abs(own - plain).max() < 1e-4 * abs(plain[0])


@pytest.mark.usefixtures("gmsh_or_skip")
def test_recipes_make_meshes_that_say_the_same(tmp_path: Path) -> None:
    made = recipes().write_all(tmp_path)
    assert sorted(path.stem for path in made) == sorted(OF_DESIGN)
    for path in made:
        magnets, rotor = machine(OF_DESIGN[path.stem])
        new, kept = (
            mid_gap(replace(magnets, section_mesh=str(folder / path.name)), rotor) for folder in (tmp_path, MESHES)
        )
        assert np.abs(new - kept).max() < 1e-4 * abs(kept[0])


@pytest.mark.usefixtures("gmsh_or_skip")
def test_the_recipe_with_nothing_but_gmsh_fits_too(tmp_path: Path) -> None:
    command = [sys.executable, str(MESHES / "pole_shoe.py"), str(tmp_path / "shoe.msh")]
    subprocess.run(command, check=True, capture_output=True)
    magnets, rotor = machine("hut-charger")
    shod = mid_gap(replace(magnets, section_mesh=str(tmp_path / "shoe.msh")), rotor)[0].real
    plain = mid_gap(magnets, rotor)[0].real
    assert 0.6 * plain < shod < 0.95 * plain  # a sixth of the magnet is steel now, and some flux crosses in the shoe
