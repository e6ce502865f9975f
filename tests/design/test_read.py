"""A sound file becomes the record it describes, in SI, with every default filled in."""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fieldrun.design.errors import DesignError, Fault
from fieldrun.design.making import Cutting
from fieldrun.design.materials import steel_curve
from fieldrun.design.model import Arc, Block, Design, Disc, Load, Magnets, Plate, Rotor, Turbine, Winding, Wire
from fieldrun.design.read import design_hash, read_design

Swaps = dict[str, str]
Reader = Callable[[Swaps], Design]
Writer = Callable[[Swaps], Path]

PATH = {
    '"zigzag"': '"path"\nfile = "hut.csv"',
    "inner_radius_mm = 54\nouter_radius_mm = 78\n": "",
    '"fill"\nlayers = 4': "1",
}
BARE = {"faces = 2\ngap_mm = 9": "faces = 1"}


def test_the_plain_machine(design: Reader) -> None:
    read = design({})
    assert read.magnets == Magnets(
        outline=Disc(diameter_m=0.02, pitch_radius_m=0.066),
        count=16,
        thickness_m=0.006,
        remanence_t=1.3,
        recoil_permeability=1.05,
        density_kg_m3=7500,
        grade="N42",
    )
    steel = Plate(steel_curve("AISI 1008"), 0.005)
    assert read.rotor == Rotor(2, 0.009, steel, None, steel_inner_radius_m=0.05, steel_outer_radius_m=0.082)
    assert read.winding == Winding("zigzag", 0.054, 0.078, 3, None, 4, height_m=0.0045)
    assert read.wire == Wire("solid", 0.0005, 1, pytest.approx(0.000544))
    assert (read.name, read.title, read.load, read.turbine, read.notes) == ("hut", "Hut charger", None, None, ())
    assert read.magnets.pole_pairs == 8


def test_designs_are_values(design: Reader) -> None:
    assert design({}) == design({})
    assert hash(design({})) == hash(design({}))
    assert design({}) != design({"gap_mm = 9": "gap_mm = 9.1"})


def test_blocks_and_arcs(design: Reader) -> None:
    block = design({'"disc"': '"block"', "diameter_mm = 20": "radial_mm = 24\ntangential_mm = 14"})
    assert block.magnets.outline == Block(0.024, 0.014, 0.066)
    assert block.rotor.steel_inner_radius_m == pytest.approx(0.048)
    assert block.rotor.steel_outer_radius_m == pytest.approx(math.hypot(0.078, 0.007) + 0.006)
    sizes = "inner_diameter_mm = 90\nouter_radius_mm = 70\narc_share = 1"
    arc = design({'"disc"': '"arc"', "diameter_mm = 20\npitch_radius_mm = 66": sizes})
    assert arc.magnets.outline == Arc(0.045, 0.07, 1.0)
    assert (arc.rotor.steel_inner_radius_m, arc.rotor.steel_outer_radius_m) == pytest.approx((0.039, 0.076))


def test_halbach_faces_count_poles_not_bodies(design: Reader) -> None:
    sizes = 'inner_radius_mm = 45\nouter_radius_mm = 70\narc_share = 0.9\npattern = "halbach"\nsegments_per_pole = 2'
    magnets = design({'"disc"': '"arc"', "diameter_mm = 20\npitch_radius_mm = 66": sizes}).magnets
    assert (magnets.count, magnets.segments_per_pole, magnets.pattern, magnets.pole_pairs) == (16, 2, "halbach", 8)


def test_remanence_by_number_is_taken_as_it_stands(design: Reader) -> None:
    magnets = design({'grade = "N42"': "remanence_t = 0.39\nrecoil_permeability = 1.1"}).magnets
    assert (magnets.remanence_t, magnets.recoil_permeability, magnets.grade) == (0.39, 1.1, "")
    assert magnets.density_kg_m3 == 4850
    assert design({'grade = "N42"': "remanence_t = 1.3"}).magnets.density_kg_m3 == 7500


def test_hot_magnets_are_weaker(design: Reader) -> None:
    assert design({'"N42"': '"N42H"\ntemperature_c = 60'}).magnets.remanence_t == pytest.approx(1.3 * (1 - 0.0012 * 40))


def test_whole_numbers_pass_for_lengths_and_touching_magnets_are_no_overlap(design: Reader) -> None:
    width = 2 * 66 * math.sin(math.pi / 16)
    assert design({"diameter_mm = 20": f"diameter_mm = {width!r}"}).magnets.outline == Disc(width / 1000, 0.066)


def test_bare_face(design: Reader) -> None:
    read = design(BARE | {'backing = "mild steel"\nbacking_mm = 5': 'backing = "none"'})
    assert (read.rotor.gap_m, read.rotor.backing, read.rotor.return_plate) == (None, None, None)
    assert read.winding.height_m == pytest.approx(0.001 + 8 * 0.000544 / 2)


def test_return_plate_and_ideal_steel(design: Reader) -> None:
    plate = 'faces = 1\ngap_mm = 8\nreturn_plate = "team 13"\nreturn_plate_mm = 4'
    rotor = design({"faces = 2\ngap_mm = 9": plate, '"mild steel"\nbacking_mm = 5': '"ideal"'}).rotor
    assert rotor.backing == Plate(None)
    assert rotor.return_plate == Plate(steel_curve("TEAM 13"), 0.004)
    assert design(BARE | {'backing = "mild': 'return_plate = "none"\nbacking = "mild'}).rotor.return_plate is None


def test_steel_radii_as_given_and_never_below_zero(design: Reader) -> None:
    given_radii = "backing_mm = 5\nsteel_inner_radius_mm = 20\nsteel_outer_radius_mm = 90"
    rotor = design({"backing_mm = 5": given_radii}).rotor
    assert (rotor.steel_inner_radius_m, rotor.steel_outer_radius_m) == (0.02, 0.09)
    small = {
        "count = 16": "count = 2",
        "pitch_radius_mm = 66": "pitch_radius_mm = 14",
        "thickness_mm = 6": "thickness_mm = 9",
    }
    assert design(small).rotor.steel_inner_radius_m == 0


def test_stack_is_winding_former_resin_and_two_clearances(design: Reader) -> None:
    stack = {"gap_mm = 9": 'gap_mm = "stack"'}
    crossed = design(stack | {"layers = 4": "layers = 4\nresin_mm = 0.4\nclearance_mm = 0.75"})
    assert crossed.rotor.gap_m == pytest.approx((8 * 0.544 + 0.4 + 1.5) / 1000)
    assert crossed.winding.height_m == pytest.approx((8 * 0.544 + 0.4 + 1.5) / 2000)
    wrapped = design(stack | {"layers = 4": "layers = 1\nformer_in_gap_mm = 3"})
    assert wrapped.rotor.gap_m == pytest.approx((2 * 0.544 + 3 + 2) / 1000)
    assert wrapped.winding.former_in_gap_m == 0.003
    flat = design(stack | {"zigzag": "serpentine"})
    assert flat.rotor.gap_m == pytest.approx((4 * 0.544 + 2) / 1000)


def test_a_winding_that_just_fits(design: Reader) -> None:
    assert design({"gap_mm = 9": "gap_mm = 6.352"}).rotor.gap_m == 0.006352
    for height in ("3.176", "5.824"):
        assert design({"layers = 4": f"layers = 4\nheight_mm = {height}"}).winding.height_m == float(height) / 1000


def test_winding_keys_arrive(design: Reader) -> None:
    angles = "belt_deg = 45\nstart_deg = 90\nparallel = 2\nclearance_mm = 0.5"
    more = f'layers = 4\nleg = "spiral"\nspan = 0.8\nskew = 0.25\n{angles}'
    winding = design({"zigzag": "rhomboid", '"fill"': "8", "layers = 4": more}).winding
    assert (winding.leg, winding.span, winding.skew, winding.rounds, winding.parallel) == ("spiral", 0.8, 0.25, 8, 2)
    assert (winding.belt_rad, winding.start_rad) == pytest.approx((math.pi / 4, math.pi / 2))
    assert winding.clearance_m == 0.0005
    assert design({"zigzag": "hexagon", "layers = 4": "layers = 4\nstraight_share = 0"}).winding.straight_share == 0


def test_path_has_its_radii_and_heights_in_the_file(design: Reader, spoilt: Writer) -> None:
    spoilt({}).with_name("hut.csv").write_text("x")
    winding = design(PATH).winding
    assert (winding.inner_radius_m, winding.outer_radius_m, winding.height_m) == (None, None, 0.0)
    assert winding.file == str(Path("hut.csv").resolve())
    assert (winding.rounds, winding.layers, winding.step_rad) == (1, 1, None)
    steps = design(PATH | {'"fill"\nlayers = 4': "3\nlayers = 1\nstep_deg = 0.6"}).winding
    assert (steps.rounds, steps.step_rad) == (3, pytest.approx(math.radians(0.6)))
    notches = {
        '"zigzag"': '"path"\nfile = "hut.csv"\ninner_notches = 48\nouter_notches = 96',
        '"fill"\nlayers = 4': "1",
    }
    read = design(notches).winding
    assert (read.inner_notches, read.outer_notches, read.inner_radius_m, read.outer_radius_m) == (48, 96, 0.054, 0.078)
    without_rounds = design(_no_rounds())
    assert without_rounds.winding.rounds == 1


def _no_rounds() -> Swaps:
    return {key: value for key, value in PATH.items() if "fill" not in key} | {'rounds = "fill"\nlayers = 4\n': ""}


@pytest.mark.parametrize(
    ("written", "load", "expected"),
    [
        ("phases = 3", "", "star"),
        ("phases = 2", "", "separate"),
        ("phases = 1", "", "separate"),
        ('phases = 3\nconnection = "delta"', "", "delta"),
        ("phases = 3", '[load]\nkind = "battery"\nvoltage_v = 12\nrectifier = "bridge per phase"', "separate"),
        ('phases = 3\nconnection = "star"', '[load]\nkind = "open"\nrectifier = "doubler"', "star"),
        ('phases = 1\nconnection = "star"', "", "separate"),
    ],
)
def test_connection(written: str, load: str, expected: str, design: Reader) -> None:
    swaps = {"phases = 3": written, "copper_mm = 0.5": f"copper_mm = 0.5\n{load}"}
    assert design(swaps).winding.connection == expected


def test_a_bundle_twisted_at_home_and_what_it_is_cut_with(design: Reader) -> None:
    litz = '"litz"\nstrand_mm = 0.1\nstrands = 12\nlay_mm = 20\nbench_mm = 2500'
    home = {'"solid"\ncopper_mm = 0.5': litz}
    read = design(home)
    assert (read.wire.lay_m, read.wire.bench_m) == (0.02, 2.5)
    assert read.cutting == Cutting(tail_m=0.15, spare=0.05)
    cut = design({'"solid"\ncopper_mm = 0.5': litz + "\n[former]\ntail_mm = 200\nspare_percent = 12"})
    assert cut.cutting == Cutting(tail_m=0.2, spare=0.12)
    farther = design({'"solid"\ncopper_mm = 0.5': litz + "0"})
    assert len({design_hash(other) for other in (read, cut, farther)}) == 3


def test_load_and_wind(design: Reader) -> None:
    more = 'copper_mm = 0.5\n[load]\nkind = "battery"\nvoltage_v = 12\ncable_ohm = 0.1\nspeeds_rpm = [300, 200.5]\n'
    wind = "[wind]\nrotor_diameter_m = 2\ntip_speed_ratio = 6\ngear_ratio = 3"
    read = design({"copper_mm = 0.5": more + wind})
    assert read.load == Load("battery", voltage_v=12, cable_ohm=0.1, speeds_rpm=(300, 200.5))
    assert read.turbine == Turbine(2, 6, 3)


def test_resistor_keeps_its_ohms(design: Reader) -> None:
    read = design(
        {"copper_mm = 0.5": 'copper_mm = 0.5\n[load]\nkind = "resistor"\nresistance_ohm = 4\nrectifier = "none"'}
    )
    assert read.load == Load("resistor", resistance_ohm=4, rectifier="none")


def test_files_are_found_beside_the_design(tmp_path: Path, spoilt: Writer) -> None:
    text = spoilt({'"mild steel"': '"own.csv"', '"N42"': '"N42"\nsection_mesh = "sub/own.msh"'}).read_text()
    folder = tmp_path / "elsewhere"
    (folder / "sub").mkdir(parents=True)
    (folder / "hut.toml").write_text(text)
    (folder / "own.csv").write_text("b_t,h_a_per_m\n0,0\n1,300\n2,20000\n")
    (folder / "sub" / "own.msh").write_bytes(b"x")
    read = read_design(folder / "hut.toml")
    assert read.magnets.section_mesh == str(folder / "sub" / "own.msh")
    assert read.rotor.backing is not None
    assert read.rotor.backing.steel is not None
    assert read.rotor.backing.steel.h_a_per_m == (0, 300, 20000)
    assert [key for key, _ in read.file_hashes] == ["magnets.section_mesh", "rotor.backing"]


def test_ends_of_an_outline_are_plain_unless_told(spoilt: Writer) -> None:
    spoilt({}).with_name("own.msh").write_bytes(b"x")
    block = {'"disc"': '"block"', "diameter_mm = 20": 'radial_mm = 20\ntangential_mm = 13\nsection_mesh = "own.msh"'}
    plain, told, cut = (
        read_design(spoilt(block | {'"N42"': f'"N42"\n{more}'}))
        for more in ("", 'outline_ends = "plain"', 'outline_ends = "cut"')
    )
    assert [read.magnets.outline_ends for read in (plain, told, cut)] == ["plain", "plain", "cut"]
    assert design_hash(plain) == design_hash(told) != design_hash(cut)


def test_faults_of_a_steel_table_stand_in_that_table(spoilt: Writer, messages: Callable[[Swaps], list[str]]) -> None:
    spoilt({}).with_name("own.csv").write_text("b_t,h_a_per_m\n0,0\n1,300\n0.9,20000\n")
    (message,) = messages({'"mild steel"': '"own.csv"'})
    assert message.startswith("own.csv:4: rotor.backing: both columns must rise")


def test_all_faults_at_once_in_the_order_of_the_file(messages: Callable[[Swaps], list[str]]) -> None:
    spoilt_all = {
        "count = 16": "count = 15",
        "thickness_mm = 6": "thicknes_mm = 6",
        '"N42"': '"N43"',
        "gap_mm = 9\n": "",
        '"mild steel"': '"steal"',
        "outer_radius_mm = 78": "outer_radius_mm = 50",
        "copper_mm = 0.5": "copper_mm = 0.5\nawg = 20",
    }
    places = [message.split(": ")[:2] for message in messages(spoilt_all)]
    assert places == [
        ["hut.toml:5", "magnets.count"],
        ["hut.toml:6", "magnets.thicknes_mm"],
        ["hut.toml:9", "magnets.grade"],
        ["hut.toml:11", "rotor.gap_mm"],
        ["hut.toml:13", "rotor.backing"],
        ["hut.toml:18", "winding.inner_radius_mm"],
        ["hut.toml:27", "wire.awg"],
    ]


def test_later_checks_get_records_and_their_faults_get_lines(spoilt: Writer) -> None:
    seen: list[Any] = []

    def check(*arguments: Any) -> list[Fault]:
        seen.append(arguments)
        return [Fault("winding.inner_radius_mm", "too small"), Fault("wire", "too thick"), Fault("a", "b", "c.csv", 3)]

    with pytest.raises(DesignError) as caught:
        read_design(spoilt({"inner_radius_mm = 54": "inner_diameter_mm = 108"}), [check])
    assert [str(fault) for fault in caught.value.faults] == [
        "hut.toml:19: winding.inner_diameter_mm: too small",
        "hut.toml:25: wire: too thick",
        "c.csv:3: a: b",
    ]
    kinds = [type(argument) for argument in seen[0][:4]]
    assert kinds == [Magnets, Rotor, Winding, Wire]
    assert seen[0][4] == Path()


@pytest.mark.parametrize(
    ("swaps", "missing"),
    [
        ({"thickness_mm = 6": "thickness_mm = true"}, {"magnets", "rotor"}),
        ({"gap_mm = 9": "gap_mm = 0"}, {"rotor", "winding"}),
        ({"inner_radius_mm = 54": "inner_radius_mm = 99"}, {"winding", "rotor"}),
        ({"copper_mm = 0.5": "awg = 24\ncopper_mm = 0.5"}, {"rotor", "winding", "wire"}),
        ({"[rotor]": "[rotr]"}, {"rotor", "winding"}),
        ({'title = "Hut charger"': "gap_mm = 3"}, {"rotor", "winding"}),
    ],
)
def test_later_checks_get_none_for_what_is_faulty(swaps: Swaps, missing: set[str], spoilt: Writer) -> None:
    seen: list[Any] = []

    def check(*arguments: Any) -> list[Fault]:
        seen.extend(arguments)
        return []

    with pytest.raises(DesignError):
        read_design(spoilt(swaps), [check])
    names = ("magnets", "rotor", "winding", "wire")
    assert {name for name, record in zip(names, seen, strict=False) if record is None} == missing


def test_changes_replace_and_remove_keys(spoilt: Writer) -> None:
    path = spoilt({"inner_radius_mm = 54": "inner_diameter_mm = 108"})
    read = read_design(path, changes={"winding.inner_radius_mm": 50.0, "load.kind": "open", "title": None})
    assert read.winding.inner_radius_m == 0.05
    assert read.load == Load("open")
    assert read.title == "hut"
    with pytest.raises(
        DesignError, match=r"hut.toml:13: rotor.gap_mm: must be above 0; .* \(set in place of the file's\)"
    ):
        read_design(path, changes={"rotor.gap_mm": 0})


def test_hash_knows_the_design_not_its_spelling(design: Reader, spoilt: Writer) -> None:
    plain = design_hash(design({}))
    assert len(plain) == 16
    assert int(plain, 16) >= 0
    same = [
        {"gap_mm = 9": "gap_mm = 9.0  # air"},
        {"inner_radius_mm = 54": "inner_diameter_mm = 108"},
        {"layers = 4": "layers = 4\nbelts = 1"},
        {"copper_mm = 0.5": "copper_mm = 0.5\nenamel = 1"},
        {'"N42"': '"n42"'},
        {"gap_mm = 9": "gap_mm = 9\nsteel_outer_radius_mm = 82"},
    ]
    assert {design_hash(design(swaps)) for swaps in same} == {plain}
    other = [{"gap_mm = 9": "gap_mm = 9.001"}, {"layers = 4": "layers = 2"}, {'"N42"': '"N45"'}]
    assert plain not in {design_hash(design(swaps)) for swaps in other}


def test_hash_knows_the_content_of_files(design: Reader, spoilt: Writer) -> None:
    curve = spoilt({}).with_name("own.csv")
    hashes = set()
    for strength in (20000, 20001):
        curve.write_text(f"b_t,h_a_per_m\n0,0\n1,300\n2,{strength}\n")
        hashes.add(design_hash(design({'"mild steel"': '"own.csv"'})))
    assert len(hashes) == 2


def as_toml(written: str) -> str:
    """The resolved keys as a design file again; JSON's text, numbers and lists are TOML too."""
    tables = json.loads(written)
    lines = [f"title = {json.dumps(tables.pop('title'))}"]
    for name, table in tables.items():
        lines += [f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in table.items())]
    return "\n".join(lines)


LITZ = {'"solid"\ncopper_mm = 0.5': '"litz"\nstrand_mm = 0.1\nstrands = 12\nlay_mm = 20\nserving_mm = 0.06'}


@pytest.mark.parametrize(
    "swaps",
    [
        {},
        {"gap_mm = 9": 'gap_mm = "stack"', "copper_mm = 0.5": "awg = 25"},
        LITZ | {"zigzag": "diamond"},
        BARE | {"zigzag": "serpentine", "phases = 3": "phases = 1"},
        {'"mild steel"\nbacking_mm = 5': '"none"', "zigzag": "hexagon", "phases = 3": "phases = 2"},
        {"zigzag": "rhomboid", "copper_mm = 0.5": 'copper_mm = 0.5\n[load]\nkind = "open"\n[former]\n[tolerance]'},
        {"copper_mm = 0.5": 'copper_mm = 0.5\n[load]\nkind = "resistor"\nresistance_ohm = 8\nrectifier = "none"'},
        {"copper_mm = 0.5": 'copper_mm = 0.5\n[load]\nkind = "battery"\nvoltage_v = 8\nrectifier = "bridge per phase"'},
        {"copper_mm = 0.5": "copper_mm = 0.5\n[wind]\nrotor_diameter_m = 2"},
        {"copper_mm = 0.5": "copper_mm = 0.5\n[wind]\nrotor_diameter_m = 2\nmean_knots = 9"},
        PATH,
    ],
)
def test_what_is_written_reads_as_the_same_design(swaps: Swaps, design: Reader, spoilt: Writer) -> None:
    spoilt({}).with_name("hut.csv").write_text("x")
    first = design(swaps)
    Path("hut.toml").write_text(as_toml(first.written))
    again = read_design("hut.toml")
    assert again.written == first.written
    assert (again.magnets, again.load) == (first.magnets, first.load)
    assert again.wire.overall_diameter_m == pytest.approx(first.wire.overall_diameter_m, rel=1e-11)
    assert again.winding.height_m == pytest.approx(first.winding.height_m, rel=1e-11)
    assert list(json.loads(first.written)) == sorted(json.loads(first.written))


VALUES = st.one_of(
    st.integers(-3, 200),
    st.floats(allow_nan=True),
    st.sampled_from(
        ["fill", "stack", "", "none", "N42", "zigzag", "path", "block", "arc", "litz", "a\0.csv", "x" * 300 + ".csv"]
    ),
    st.booleans(),
    st.just([]),
    st.dictionaries(st.sampled_from(["a", "count"]), st.integers(), max_size=1),
)
PLACES = st.sampled_from(
    [
        f"{table}.{key}"
        for table, keys in {
            "magnets": "shape count thickness_mm diameter_mm pitch_radius_mm grade radial_mm arc_share pattern",
            "rotor": "faces gap_mm backing backing_mm return_plate steel_inner_radius_mm",
            "winding": "shape inner_radius_mm outer_diameter_mm phases rounds layers belts belt_deg height_mm file",
            "wire": "kind copper_mm awg strands strand_mm strands_in_series lay_mm",
            "load": "kind voltage_v rectifier speeds_rpm",
            "wind": "rotor_diameter_m cp_curve record",
        }.items()
        for key in keys.split()
    ]
)


@settings(
    derandomize=True, max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(changes=st.dictionaries(PLACES, VALUES | st.none(), min_size=1, max_size=6))
def test_whatever_is_written_gives_a_design_or_faults(changes: dict[str, Any], spoilt: Writer) -> None:
    try:
        read = read_design(spoilt({}), changes=changes)
    except DesignError as error:
        complete = [fault.text and fault.file == "hut.toml" and fault.line for fault in error.faults]
    else:
        complete = [read.winding.height_m >= 0, len(design_hash(read)) == 16]
    assert complete
    assert all(complete)


def test_two_blocks_face_each_other_across_the_shaft(design: Reader) -> None:
    """However wide: each keeps to its own side; four of the same width would overlap."""
    block = {"count = 16": "count = 2", '"disc"': '"block"', "diameter_mm = 20": "radial_mm = 24\ntangential_mm = 200"}
    assert design(block).magnets.outline == Block(0.024, 0.2, 0.066)
    with pytest.raises(DesignError, match=r"4 bodies overlap on this circle by 92.00 mm: 200 mm each where 108.00 mm"):
        design(block | {"count = 16": "count = 4"})


def test_a_change_in_what_should_be_a_table_is_that_table_s_fault(spoilt: Writer) -> None:
    path = spoilt({"[wire]": "[wires]", "title = ": "wire = 3\ntitle = "})
    with pytest.raises(DesignError) as caught:
        read_design(path, changes={"wire.copper_mm": 0.6})
    assert "wire" in {fault.key for fault in caught.value.faults}
