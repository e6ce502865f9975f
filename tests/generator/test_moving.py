"""Masses and moments of inertia against closed forms, and against bodies cut into small cells."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fieldrun.design.examples import example_path
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Disc, Magnets, Plate, Rotor, Winding, Wire
from fieldrun.design.read import read_design
from fieldrun.field.outline import covered_half_angles
from fieldrun.generator.impedance import impedance
from fieldrun.generator.moving import (
    FORMER_KG_M3,
    RESIN_KG_M3,
    Moving,
    Part,
    magnets_part,
    moving_of,
    steel_parts,
    winding_parts,
)
from fieldrun.winding.lay import lay

HUT = read_design(example_path("hut-charger"))
STEEL = Plate(steel_curve("mild steel"), 6e-3)
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
BLOCKS = replace(DISCS, outline=Block(0.025, 0.010, 0.070), pattern="halbach", segments_per_pole=2)
ARCS = replace(DISCS, outline=Arc(0.045, 0.070, 0.85), count=12)


def rotor(backing: Plate | None = STEEL, plate: Plate | None = None, faces: int = 2) -> Rotor:
    return Rotor(faces, 0.008, backing, plate, 0.050, 0.082)


def test_discs() -> None:
    """2 x 16 discs d20 x 6: pi/4 D^2 h each; m (R^2 + D^2/8) about the shaft."""
    part = magnets_part(DISCS, 2)
    mass = 32 * math.pi / 4 * 0.020**2 * 0.006 * 7500
    assert part.mass_kg == pytest.approx(mass, rel=1e-12)
    assert part.inertia_kg_m2 == pytest.approx(mass * (0.066**2 + 0.020**2 / 8), rel=1e-12)


def test_blocks_of_a_halbach_ring() -> None:
    part = magnets_part(BLOCKS, 1)
    mass = 32 * 0.025 * 0.010 * 0.006 * 7500
    assert part.mass_kg == pytest.approx(mass, rel=1e-12)
    assert part.inertia_kg_m2 == pytest.approx(mass * (0.070**2 + (0.025**2 + 0.010**2) / 12), rel=1e-12)


def test_arcs() -> None:
    part = magnets_part(ARCS, 1)
    mass = 0.85 * math.pi * (0.070**2 - 0.045**2) * 0.006 * 7500
    assert part.mass_kg == pytest.approx(mass, rel=1e-12)
    assert part.inertia_kg_m2 == pytest.approx(mass * (0.070**2 + 0.045**2) / 2, rel=1e-12)
    halved = replace(ARCS, pattern="halbach", segments_per_pole=2)
    assert magnets_part(halved, 1) == part  # the share is that of each body's own place


@pytest.mark.parametrize("magnets", [DISCS, BLOCKS, ARCS])
def test_the_field_sees_magnets_of_the_same_mass_and_inertia(magnets: Magnets) -> None:
    """The covered angle at every radius, which the field is computed from, summed over rings of 2 um."""
    r = np.arange(0.04, 0.09, 2e-6) + 1e-6
    inner, outer = covered_half_angles(magnets, r)
    covered = 2 * (outer - inner) * magnets.count * magnets.segments_per_pole * r * 2e-6
    weight = magnets.thickness_m * magnets.density_kg_m3
    part = magnets_part(magnets, 1)
    assert part.mass_kg == pytest.approx(weight * float(np.sum(covered)), rel=2e-5)
    assert part.inertia_kg_m2 == pytest.approx(weight * float(np.sum(covered * r**2)), rel=2e-5)


def test_steel_discs() -> None:
    (part,) = steel_parts(rotor())
    mass = 2 * math.pi * (0.082**2 - 0.050**2) * 6e-3 * 7850
    assert (part.name, part.mass_kg) == ("steel discs", pytest.approx(mass, rel=1e-12))
    assert part.inertia_kg_m2 == pytest.approx(mass * (0.082**2 + 0.050**2) / 2, rel=1e-12)


def test_a_return_plate_turns_with_the_magnets_and_ideal_ones_weigh_nothing() -> None:
    backing, plate = steel_parts(rotor(STEEL, replace(STEEL, thickness_m=3e-3), 1))
    assert (backing.name, plate.name) == ("steel disc", "return plate")
    assert backing.mass_kg == pytest.approx(2 * plate.mass_kg, rel=1e-12)
    assert steel_parts(rotor(Plate(None), Plate(None), 1)) == ()
    assert steel_parts(rotor(None)) == ()


def test_magnets_turn_or_the_coil() -> None:
    laid = lay(HUT.winding, 8, HUT.wire)
    copper = impedance(laid.pieces, HUT.wire, HUT.winding)
    magnets = moving_of(HUT, laid, copper)
    assert [part.name for part in magnets.parts] == ["magnets", "steel discs"]
    coil = moving_of(replace(HUT, rotor=replace(HUT.rotor, spins="coil")), laid, copper)
    assert [part.name for part in coil.parts] == ["copper", "resin"]
    assert coil.parts == winding_parts(HUT, laid, copper)


def test_parts_add_up() -> None:
    both = Moving((Part("a", 1.5, 0.2), Part("b", 0.25, 0.03)))
    assert (both.mass_kg, both.inertia_kg_m2) == pytest.approx((1.75, 0.23), rel=1e-12)


SERPENTINE = Winding("serpentine", 0.060, 0.110, 3, 4, 2, 0.005)
WIRE = Wire("solid", 0.8e-3, 1, 0.86e-3)


def coil(winding: Winding, wire: Wire = WIRE) -> dict[str, Part]:
    design = replace(HUT, winding=winding, wire=wire)
    laid = lay(winding, 8, wire)
    return {part.name: part for part in winding_parts(design, laid, impedance(laid.pieces, wire, winding))}


def serpentine_copper() -> tuple[float, float]:
    """12 rounds: half of either circle in arcs, and 16 radial legs; lengths and their second moments by hand."""
    arcs = [math.pi * r for r in (0.060, 0.110)]
    legs = 16 * 0.050
    length = 12 * (sum(arcs) + legs)
    moment = 12 * (math.pi * (0.060**3 + 0.110**3) + 16 * (0.110**3 - 0.060**3) / 3)
    per_metre = 8890 * math.pi / 4 * 0.8e-3**2
    return per_metre * length, per_metre * moment


def test_copper_along_its_own_path() -> None:
    mass, inertia = serpentine_copper()
    copper = coil(SERPENTINE)["copper"]
    assert copper.mass_kg == pytest.approx(mass, rel=1e-9)
    assert copper.inertia_kg_m2 == pytest.approx(inertia, rel=1e-9)


def test_resin_fills_the_rest_of_the_ring() -> None:
    """From wire's edge to wire's edge, two sheets and a millimetre of casting; what copper leaves."""
    inner, outer, height = 0.060 - 0.43e-3, 0.110 + 0.43e-3, 2 * 0.86e-3 + 1e-3
    ring = math.pi * (outer**2 - inner**2) * height
    mass, inertia = serpentine_copper()
    resin = coil(replace(SERPENTINE, resin_m=1e-3))["resin"]
    assert resin.mass_kg == pytest.approx(RESIN_KG_M3 * (ring - mass / 8890), rel=1e-9)
    body = ring * (outer**2 + inner**2) / 2
    assert resin.inertia_kg_m2 == pytest.approx(RESIN_KG_M3 * (body - inertia / 8890), rel=1e-9)


def test_a_former_left_in_the_gap_takes_its_place() -> None:
    wrapped = replace(SERPENTINE, shape="hexagon", layers=1, rounds=2)
    plain, formed = coil(wrapped), coil(replace(wrapped, former_in_gap_m=3e-3))
    ring = math.pi * ((0.110 + 0.43e-3) ** 2 - (0.060 - 0.43e-3) ** 2)
    assert "former" not in plain
    assert formed["former"].mass_kg == pytest.approx(FORMER_KG_M3 * ring * 3e-3, rel=1e-9)
    # only the wire that crosses the former's thickness leaves more or less room for resin
    assert formed["resin"].mass_kg == pytest.approx(plain["resin"].mass_kg, rel=0.05)


def test_a_scaled_machine() -> None:
    """All lengths by 2: masses by 8, moments of inertia by 32."""
    one = magnets_part(DISCS, 2)
    two = magnets_part(replace(DISCS, outline=Disc(0.040, 0.132), thickness_m=0.012), 2)
    assert two.mass_kg == pytest.approx(8 * one.mass_kg, rel=1e-12)
    assert two.inertia_kg_m2 == pytest.approx(32 * one.inertia_kg_m2, rel=1e-12)


def test_more_copper_than_fits_leaves_no_resin_less_than_nothing() -> None:
    crowded = coil(SERPENTINE, replace(WIRE, strand_diameter_m=3e-3))["resin"]
    assert crowded.mass_kg == crowded.inertia_kg_m2 == 0
