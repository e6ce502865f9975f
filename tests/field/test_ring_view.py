"""A view of the rings holds the field that the map holds, sources and all, wherever cells are asked about."""

import math

import numpy as np
import pytest

from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor
from fieldrun.field.field_map import field_at
from fieldrun.field.ring_field import ring_field
from fieldrun.field.ring_mesh import RingDensity
from fieldrun.field.ring_view import RingView, _samples, cells_at, potential_at, ring_view

STEEL, IDEAL = Plate(steel_curve("mild steel"), 0.004), Plate(None)
DISC = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
ARC = Magnets(Arc(0.045, 0.070, 0.85), 12, 0.008, 1.24, 1.05, 7500.0)
LYING = Magnets(Block(0.025, 0.010, 0.070), 16, 0.010, 1.35, 1.05, 7500.0, pattern="halbach", segments_per_pole=2)

MACHINES = {
    "two faces on steel": (DISC, Rotor(2, 0.008, STEEL, None, 0.050, 0.082)),
    "open": (ARC, Rotor(1, None, None, None, 0.04, 0.08)),
    "under a plate": (ARC, Rotor(1, 0.006, IDEAL, STEEL, 0.04, 0.08)),
    "lying magnets": (LYING, Rotor(2, 0.006, None, None, 0.04, 0.09)),
}


@pytest.fixture(scope="module", params=MACHINES)
def machine(request):
    return MACHINES[request.param]


@pytest.fixture(scope="module")
def view(machine) -> RingView:
    return ring_view(*machine)


def centres(view, parts=2):
    return _samples(view.radii_m, parts)[0] @ view.radii_m, _samples(view.heights_m, parts)[0] @ view.heights_m


def test_the_gap_s_field_is_the_map_s(machine, view):
    """Taken inside elements it is less exact than the map's, which comes from fluxes through lines: 0.6 % of peak."""
    magnets, rotor = machine
    field_map = ring_field(magnets, rotor).field_map
    angles = np.array([0.0, 0.02, 0.05, 0.11, 0.3])
    r, z = centres(view)
    gap = rotor.gap_m or 0.02
    rows = np.flatnonzero((r > field_map.radii_m[0]) & (r < field_map.radii_m[-1]))
    columns = np.flatnonzero((z > gap / 8) & (z < gap * 7 / 8))
    known = field_at(field_map, r[rows, None], angles[:, None, None], z[columns])
    found = cells_at(view, angles).flux_t[:, :, rows][..., columns]
    assert len(columns) > 5
    assert np.abs(found - known).max() < 0.006 * np.abs(known).max()


def test_what_enters_a_box_leaves_it(view):
    """From the middle of a magnet up into the gap, one pole round: flux out of a magnet, past its edges, over its top.

    Integrated with the trapezoidal rule over the cells, which cuts the magnets' flanks: up to 3 % of the flux through
    the bottom is left with 97 angles, 1.2 % with 193 and 0.5 to 0.9 % (by mesh) with these.
    """
    p = int(view.waves[0])
    half = math.pi / (2 * p)
    angles = np.linspace(-half, half, 385)
    r, z = centres(view)
    body = view.bodies[0]
    rows = np.flatnonzero((r > 0.6 * body_radii(view)[0]) & (r < 1.3 * body_radii(view)[1]))
    bottom = int(np.argmin(np.abs(z - sum(body.heights_m) / 2)))
    top = int(np.argmin(np.abs(z - 0.003)))
    flux = cells_at(view, angles).flux_t[:, :, rows][..., bottom : top + 1]
    radius, heights = r[rows], z[bottom : top + 1]

    def over(values, *places):
        for place in places:
            values = np.trapezoid(values, place, axis=0)
        return float(values)

    out_top, out_bottom = (sign * over(flux[2, :, :, k] * radius, angles, radius) for sign, k in ((1, -1), (-1, 0)))
    sides = over(flux[1, -1] - flux[1, 0], radius, heights)
    ends = over(flux[0, :, -1] * radius[-1] - flux[0, :, 0] * radius[0], angles, heights)
    assert abs(out_bottom) > 1e-5
    assert abs(sides) > 0.005 * abs(out_bottom)
    assert out_top + out_bottom + sides + ends == pytest.approx(0, abs=0.015 * abs(out_bottom))


def body_radii(view):
    return {0.020: (0.056, 0.076)}.get(getattr(view.magnets.outline, "diameter_m", None)) or (
        (0.0575, 0.0826) if isinstance(view.magnets.outline, Block) else (0.045, 0.070)
    )


def test_magnets_have_the_volume_they_have(view):
    """Cells counted by their middles over one pole pair, against outline times thickness."""
    p, steps = int(view.waves[0]), 192
    angles = (np.arange(steps) + 0.5) * 2 * math.pi / (p * steps)
    r, _ = centres(view)
    dr, dz = (np.repeat(np.diff(nodes[::2]) / 2, 2) for nodes in (view.radii_m, view.heights_m))
    cell = np.multiply.outer(r * dr, dz) * (angles[1] - angles[0])
    region = cells_at(view, angles).region
    magnets = view.magnets
    area = {
        Disc: lambda o: math.pi * o.diameter_m**2 / 4,
        Block: lambda o: o.radial_m * o.tangential_m,
        Arc: lambda o: math.pi / magnets.count * o.share * (o.outer_radius_m**2 - o.inner_radius_m**2),
    }[type(magnets.outline)](magnets.outline)
    for name in view.regions:
        if "magnet" in name:
            volume = float(np.sum(cell * (region == view.regions.index(name))))
            assert volume == pytest.approx(area * magnets.thickness_m, rel=0.03), name


def test_regions_by_name(machine, view):
    magnets, rotor = machine
    names = {"magnet_up", "magnet_down"} if magnets is not LYING else {f"magnet_{w}" for w in ("up", "down", 90, 270)}
    upper = {f"upper {name}" for name in names} if rotor.faces == 2 else set()
    steels = {"return plate"} if rotor.return_plate else set()
    if rotor.backing is STEEL:
        steels = {"backing", "upper backing"}
    assert set(view.regions) == names | upper | steels
    pitch = math.pi / magnets.pole_pairs
    found = np.unique(cells_at(view, [0.0, pitch / 2, pitch, 1.5 * pitch]).region)
    assert set(found) == {-1, *range(len(view.regions))}


def test_both_faces_are_mirror_images():
    view = ring_view(*MACHINES["two faces on steel"])
    assert view.heights_m + view.heights_m[::-1] == pytest.approx(0.008)
    assert np.array_equal(view.potential_a, -view.potential_a[:, :, ::-1])
    cells = cells_at(view, [0.03])
    radial, around, axial = cells.flux_t[:, 0]
    assert radial == pytest.approx(-radial[:, ::-1])
    assert around == pytest.approx(-around[:, ::-1])
    assert axial == pytest.approx(axial[:, ::-1])


def test_a_pole_further_every_sign_turns(view):
    pitch = math.pi / int(view.waves[0])
    here, there = cells_at(view, [0.01]), cells_at(view, [0.01 + pitch])
    assert there.flux_t == pytest.approx(-here.flux_t, abs=1e-12)
    assert there.permeability == pytest.approx(here.permeability)
    assert potential_at(view, [0.01 + pitch]) == pytest.approx(-potential_at(view, [0.01]))


def test_steel_carries_what_the_report_says():
    """Cells' middles lie beside the Gauss points at which the report looks, and more harmonics enter the steel.

    The report keeps high harmonics out of the steel, the view does not: with its first six it reads 0.5 % less than the
    report, with all eighteen 1.2 % more.
    """
    magnets, rotor = MACHINES["two faces on steel"]
    view = ring_view(magnets, rotor)
    (report,) = ring_field(magnets, rotor).steel
    cells = cells_at(view, np.linspace(0, math.pi / 8, 65))
    size = np.linalg.norm(cells.flux_t, axis=0)[cells.region == view.regions.index("backing")]
    assert 0.97 * report.peak_t < size.max() < 1.03 * report.peak_t
    assert cells.permeability[cells.region == view.regions.index("magnet_up")] == pytest.approx(1.05)
    assert np.all(cells.permeability[cells.region == -1] == 1)


def test_one_cell_an_element_or_two(view):
    whole, halves = (centres(view, parts) for parts in (1, 2))
    assert [len(two) for two in halves] == [2 * len(one) for one in whole]
    assert whole[0] == pytest.approx(halves[0].reshape(-1, 2).mean(axis=1))
    assert cells_at(view, [0.0], parts=1).region.shape == (1, len(whole[0]), len(whole[1]))


def test_arrays_are_locked(view):
    with pytest.raises(ValueError, match="read-only"):
        view.potential_a[0, 0, 0] = 1


def test_full_steel_bends_the_view_as_it_bends_the_map():
    """2 mm of steel at 2.2 T, its first harmonics coupled in it: across the gap's middle the view follows the map."""
    rotor, coarse = (
        Rotor(2, 0.008, Plate(steel_curve("mild steel"), 0.002), None, 0.050, 0.082),
        RingDensity().coarser(2),
    )
    found, view = ring_field(DISC, rotor, coarse), ring_view(DISC, rotor, density=coarse)
    assert found.model == "coupled rings"
    r, z = centres(view)
    rows, columns = np.flatnonzero(np.abs(r - 0.066) < 0.004), np.flatnonzero(np.abs(z - 0.004) < 0.001)
    full = field_at(found.field_map, r[rows, None], np.array([0.0, 0.02])[:, None, None], z[columns])[2]
    seen = cells_at(view, np.array([0.0, 0.02])).flux_t[2][:, rows][..., columns]
    assert full.size > 10
    assert np.abs(seen - full).max() < 0.006 * full.max()
