"""Sections solved together are what each is alone, whatever differs between them."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.model import Arc, Magnets, Plate, Rotor
from fieldrun.field.magnetostatics import solve_section, template_of_grid
from fieldrun.field.mesh import structured_grid
from fieldrun.field.section import section_at
from fieldrun.field.section_batch import linear_fields

R = 0.066
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
ROTORS = {
    "open": Rotor(1, None, None, None, 0.04, 0.09),
    "ideal": Rotor(2, 0.009, Plate(None), None, 0, 1),
    "facing": Rotor(2, 0.009, None, None, 0.04, 0.09),
}


@pytest.mark.parametrize("width", ["half pole", "full pole"])
@pytest.mark.parametrize("name", ROTORS)
def test_together_is_alone(name: str, width: str) -> None:
    """Lengths, remanence, permeability and radius differ; some neighbours share their lines along x, some do not."""
    magnets = [
        ARCS,
        replace(ARCS, thickness_m=0.009),
        replace(ARCS, remanence_t=0.4),
        replace(ARCS, recoil_permeability=1.2),
        replace(ARCS, outline=Arc(0.056, 0.076, 0.5)),
    ]
    radii = [R, R, 0.06, R, R]
    sections = [
        section_at(one, ROTORS[name], radius, width)  # type: ignore[arg-type]  # from a parameter list
        for one, radius in zip(magnets, radii, strict=True)
    ]
    grids = [structured_grid(one) for one in sections]
    template = template_of_grid(sections[0], grids[0])
    together = linear_fields(sections, grids, template)
    for section, grid, field in zip(sections, grids, together, strict=True):
        alone = solve_section(section, grid)
        assert field.section is section
        assert field.newton_steps == 1
        assert np.abs(field.potential - alone.potential).max() < 1e-12 * np.abs(alone.potential).max()


def test_results_are_locked_and_their_meshes_made_when_asked_for() -> None:
    section = section_at(ARCS, ROTORS["facing"], R)
    grid = structured_grid(section)
    (field,) = linear_fields([section], [grid], template_of_grid(section, grid))
    assert field.mesh.mesh.p[0].max() == pytest.approx(math.pi * R / 16)
    assert len(field.potential) == field.basis.N
    assert field.mesh is field.mesh
    with pytest.raises(ValueError, match="read-only"):
        field.potential[0] = 1.0
