"""Laws of the section and of the map: scaling, symmetry, refinement, and two ways that must agree."""

import math
from dataclasses import replace

import numpy as np
import pytest
import skfem

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field import section as section_module
from fieldrun.field.assembly import band_matrix, gather, numbering, scatter, solve_columns, spread
from fieldrun.field.field_map import amplitudes_at, field_at
from fieldrun.field.gap import gap_amplitudes
from fieldrun.field.magnetostatics import solve_section
from fieldrun.field.mesh import MeshDensity
from fieldrun.field.section import section_at
from fieldrun.field.section_elements import isotropic_blocks, operators, second_order_basis
from fieldrun.field.solve import section_field, slices_of
from fieldrun.reference.closed_forms import block_face, one_face_in_air, two_faces_on_iron
from tests.sections import structured_mesh

ORDERS = 2 * np.arange(8) + 1
R = 0.066
DISCS = Magnets(Disc(0.020, R), 16, 0.006, 1.3, 1.05, 7500.0)
BLOCKS = Magnets(Block(0.022, 0.016, R), 16, 0.006, 1.3, 1.05, 7500.0)
ARCS = Magnets(Arc(0.056, 0.076, 0.7), 16, 0.006, 1.3, 1.05, 7500.0)
HALBACH = Magnets(Block(0.022, 0.010, R), 16, 0.010, 1.3, 1.05, 7500.0, pattern="halbach", segments_per_pole=2)
FACING = Rotor(2, 0.009, None, None, 0.04, 0.09)
OPEN = Rotor(1, None, None, None, 0.04, 0.09)
STEEL = Rotor(2, 0.009, Plate(steel_curve("mild steel"), 0.004), None, 0.04, 0.09)
PLATED = Rotor(1, 0.009, Plate(steel_curve("mild steel"), 0.005), Plate(steel_curve("mild steel"), 0.003), 0.04, 0.09)


def scaled(magnets: Magnets, rotor: Rotor, factor: float) -> tuple[Magnets, Rotor]:
    outline = magnets.outline
    assert isinstance(outline, Disc)
    bigger = Disc(outline.diameter_m * factor, outline.pitch_radius_m * factor)
    backing = rotor.backing and replace(rotor.backing, thickness_m=rotor.backing.thickness_m * factor)
    gap = rotor.gap_m and rotor.gap_m * factor
    return (
        replace(magnets, outline=bigger, thickness_m=magnets.thickness_m * factor),
        replace(rotor, gap_m=gap, backing=backing),
    )


@pytest.mark.parametrize("rotor", [FACING, OPEN, STEEL], ids=["facing", "open", "steel"])
def test_doubling_all_lengths_leaves_the_field(rotor: Rotor) -> None:
    large = scaled(DISCS, rotor, 2.0)
    small, big = (
        gap_amplitudes(section_field(m, r, radius), [height], ORDERS)[1]
        for m, r, radius, height in ((DISCS, rotor, R, 0.003), (*large, 2 * R, 0.006))
    )
    assert np.max(np.abs(small - big)) < 1e-9 * np.abs(small[0, 0])


@pytest.mark.parametrize("rotor", [FACING, OPEN, Rotor(2, 0.009, Plate(None), None, 0, 1)])
def test_field_is_proportional_to_remanence_without_real_steel(rotor: Rotor) -> None:
    weak, strong = (
        gap_amplitudes(section_field(replace(BLOCKS, remanence_t=br), rotor, R), [0.003], ORDERS)[1]
        for br in (0.4, 1.2)
    )
    assert np.max(np.abs(strong - 3 * weak)) < 1e-12


def test_field_is_not_proportional_to_remanence_with_real_steel() -> None:
    thin = Rotor(2, 0.009, Plate(steel_curve("mild steel"), 0.002), None, 0.04, 0.09)
    weak, strong = (
        gap_amplitudes(section_field(replace(BLOCKS, remanence_t=br), thin, R), [0.003], ORDERS)[1][0, 0].real / br
        for br in (0.3, 1.2)
    )
    assert strong < 0.97 * weak


@pytest.mark.parametrize("magnets", [DISCS, HALBACH], ids=["discs", "halbach"])
@pytest.mark.parametrize("rotor", [FACING, OPEN, STEEL, PLATED], ids=["facing", "open", "steel", "plated"])
def test_half_a_pole_is_a_whole_one(magnets: Magnets, rotor: Rotor) -> None:
    half, full = (
        gap_amplitudes(
            solve_section(section, structured_mesh(section, MeshDensity().refined())),
            [0.002, 0.004],
            ORDERS,
        )[1]
        for section in (section_at(magnets, rotor, R, width) for width in ("half pole", "full pole"))
    )
    # the whole box has the same lines but for the two at its sides, which the half box does not grade towards
    assert np.max(np.abs(half - full)) < 1e-5 * np.max(np.abs(half))


@pytest.mark.parametrize("share", [0.1, 0.5, 1.0])
def test_open_sides_may_lie_anywhere(share: float, monkeypatch: pytest.MonkeyPatch) -> None:
    fine = MeshDensity().refined()  # a strip of one pole pitch is coarse at the default density
    usual = gap_amplitudes(section_field(BLOCKS, OPEN, R, fine), [0.003], ORDERS)[1]
    monkeypatch.setattr(section_module, "AIR_BEHIND", share)
    moved = gap_amplitudes(section_field(BLOCKS, OPEN, R, fine), [0.003], ORDERS)[1]
    assert np.max(np.abs(moved - usual)) < 2e-5 * np.abs(usual[0, 0])


@pytest.mark.parametrize("thin", [0.02, 0.1, 0.5, 1.0, 1.9])
@pytest.mark.parametrize("gap", [0.01, 0.05, 0.3, 1.0, 1.9])
def test_template_holds_from_foils_to_bars(thin: float, gap: float) -> None:
    """Magnet thickness and gap over pole pitch from hundredths to nearly two, against the closed form."""
    tau = 0.03
    radius = tau * 8 / math.pi
    magnets = Magnets(Arc(radius - 0.01, radius + 0.01, 0.7), 16, thin * tau, 1.3, 1.0, 7500.0)
    field = section_field(magnets, Rotor(2, gap * tau, Plate(None), None, 0, 1), radius)
    exact = two_faces_on_iron(block_face([1], tau, 1.3, 0.7, (thin * tau, 1.0)), gap * tau, gap * tau / 2)
    assert gap_amplitudes(field, [gap * tau / 2], ORDERS)[1][0, 0].real == pytest.approx(float(exact[0]), rel=2e-3)


def test_halving_the_mesh_quarters_the_error_at_least_twice() -> None:
    tau = math.pi * R / 8
    magnets = replace(ARCS, recoil_permeability=1.0)
    exact = float(one_face_in_air(block_face([1], tau, 1.3, 0.7, (0.006, 1.0)), 0.003)[0])
    density = MeshDensity(3, 3, 3, 3, 2)
    errors = []
    for _ in range(3):
        found = gap_amplitudes(section_field(magnets, OPEN, R, density), [0.003], ORDERS)[1][0, 0].real
        errors.append(abs(found / exact - 1))
        density = density.refined()
    assert errors[0] < 1e-3
    assert errors[1] < errors[0] / 8
    assert errors[2] < errors[1] / 4
    assert errors[2] < 1e-6


@pytest.mark.parametrize("kind", ["triangles", "quadrilaterals"])
def test_manufactured_solution_converges_at_third_and_second_order(kind: str) -> None:
    """Second-order elements: L2 rate 3, H1 rate 2, for sin(pi x) sin(pi y) on the unit square, zero around."""
    errors = []
    for cells in (4, 8, 16):
        mesh = skfem.MeshQuad.init_tensor(*(np.linspace(0, 1, cells + 1),) * 2)
        mesh = mesh.to_meshtri() if kind == "triangles" else mesh
        basis = second_order_basis(mesh)
        ops = operators(basis)
        rim = np.flatnonzero(np.any((ops.places_m < 1e-9) | (ops.places_m > 1 - 1e-9), axis=0))
        none = np.array([], np.int64)
        rows = numbering(ops, rim, (none, none), [])
        matrices = isotropic_blocks(ops, np.ones(mesh.t.shape[1]))
        fine = skfem.CellBasis(mesh, basis.elem, intorder=8)
        load = skfem.asm(
            skfem.LinearForm(lambda v, w: 2 * np.pi**2 * np.sin(np.pi * w.x[0]) * np.sin(np.pi * w.x[1]) * v), fine
        )
        band = band_matrix(rows, [(scatter(rows, ops).band, matrices)])
        found = spread(rows, solve_columns(band, gather(rows, load)))
        at = fine.interpolate(found)
        x, y = fine.global_coordinates()
        value = np.sin(np.pi * x) * np.sin(np.pi * y)
        slopes = np.pi * np.array([np.cos(np.pi * x) * np.sin(np.pi * y), np.sin(np.pi * x) * np.cos(np.pi * y)])
        errors.append(
            (
                math.sqrt(np.sum((np.asarray(at) - value) ** 2 * fine.dx)),
                math.sqrt(np.sum((at.grad - slopes) ** 2 * fine.dx)),
            )
        )
    rates = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert rates[-1] == pytest.approx([3, 2], abs=0.05)
    assert errors[-1][0] < 2e-4


@pytest.mark.parametrize("magnets", [DISCS, BLOCKS, ARCS, HALBACH], ids=["discs", "blocks", "arcs", "halbach"])
def test_map_gives_back_the_section(magnets: Magnets) -> None:
    field_map = slices_of(magnets, FACING)
    for radius in (0.0581, R, 0.0747):
        one = gap_amplitudes(section_field(magnets, FACING, radius), [0.0013, 0.0045], ORDERS)[1]
        mapped = amplitudes_at(field_map, [radius, radius], [0.0013, 0.0045])[2][:8]
        assert np.max(np.abs(mapped - one)) < 1e-4 * np.max(np.abs(one))


def test_map_jumps_at_the_ends_of_arcs_and_is_empty_beyond() -> None:
    field_map = slices_of(ARCS, FACING)
    edge = amplitudes_at(field_map, [0.0559, 0.0561, 0.0759, 0.0761], [0.0045] * 4)[2][0].real
    assert edge[0] == edge[3] == 0
    assert min(edge[1], edge[2]) > 0.3


def test_heights_outside_the_map_are_refused() -> None:
    with pytest.raises(ValueError, match="outside the mapped"):
        amplitudes_at(slices_of(ARCS, FACING), [R], [0.0095])


def test_mapped_field_has_no_sources_in_the_gap() -> None:
    """At one radius of a slice: dB_x/dx + dB_z/dz = 0 and dB_x/dz = dB_z/dx, by differences of the mapped field."""
    field_map = slices_of(BLOCKS, FACING)
    h, theta, z = 1e-5, 0.06, 0.0031
    b = {(i, k): field_at(field_map, R, theta + i * h / R, z + k * h) for i, k in ((1, 0), (-1, 0), (0, 1), (0, -1))}
    along, up = (b[1, 0] - b[-1, 0]) / (2 * h), (b[0, 1] - b[0, -1]) / (2 * h)
    size = abs(up[1])
    assert abs(along[1] + up[2]) < 1e-3 * size
    assert abs(up[1] - along[2]) < 1e-3 * size


def test_two_facing_rows_are_even_about_the_middle() -> None:
    field = section_field(DISCS, STEEL, R)
    low = gap_amplitudes(field, [0.002], ORDERS)
    high = gap_amplitudes(field, [0.007], ORDERS)
    assert np.allclose(low[1], high[1], rtol=0, atol=1e-15)
    assert np.allclose(low[0], -high[0], rtol=0, atol=1e-15)


def test_thick_steel_is_nearly_ideal_and_thin_steel_nearly_none() -> None:
    def first(backing: Plate | None) -> float:
        rotor = Rotor(2, 0.009, backing, None, 0, 1)
        return float(gap_amplitudes(section_field(BLOCKS, rotor, R), [0.0045], ORDERS)[1][0, 0].real)

    none, ideal = first(None), first(Plate(None))
    values = [first(Plate(steel_curve("mild steel"), t)) for t in (1e-4, 0.001, 0.003, 0.006, 0.020)]
    assert none < values[0] < 1.05 * none
    assert values == sorted(values)
    assert 0.995 * ideal < values[-1] < ideal
