"""Any machine that may be written down is answered: finite, positive, in balance, and the same when written anew.

FIELDRUN_EXAMPLES=500 tries more of them than the usual handful.
"""

import json
import math
import os
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, reject, settings
from hypothesis import strategies as st

from fieldrun.design.errors import DesignError
from fieldrun.design.read import design_hash
from fieldrun.design.stack import NAMED_SHAPES
from fieldrun.design.units import RPM
from fieldrun.field.banded import one_thread
from fieldrun.generator.chain import Chain
from fieldrun.generator.load.delivery import deliver
from fieldrun.generator.machine import read_design, result_of
from fieldrun.outputs.result_file import result_dict

EXAMPLES = int(os.environ.get("FIELDRUN_EXAMPLES", "5"))

pytestmark = pytest.mark.slow


def within(low, high):
    """Numbers with three digits, as people write them."""
    return st.floats(low, high).map(lambda number: float(f"{number:.3g}"))


@st.composite
def magnets(draw):
    """A face of magnets that do not touch; with the inner and outer radius of what they cover [mm]."""
    count, radius = 2 * draw(st.integers(3, 14)), draw(within(30, 150))
    room = 2 * math.pi * radius / count
    table = {
        "count": count,
        "thickness_mm": draw(within(2, 20)),
        "shape": draw(st.sampled_from(["disc", "block", "arc"])),
    }
    pieces = 1
    if table["shape"] != "disc" and draw(st.integers(0, 3)) == 0:
        pieces = draw(st.sampled_from([2, 4]))
        table |= {"pattern": "halbach", "segments_per_pole": pieces}
    magnetic = st.sampled_from(
        [{"grade": "N35"}, {"grade": "N42"}, {"grade": "N52"}, {"remanence_t": 0.4}, {"remanence_t": 1.3}]
    )
    table |= draw(magnetic)
    if table["shape"] == "arc":
        depth = draw(within(0.2, 0.6)) * radius
        table |= {
            "inner_radius_mm": radius - depth / 2,
            "outer_radius_mm": radius + depth / 2,
            "arc_share": draw(within(0.4, 1)),
        }
        return table, (radius - depth / 2, radius + depth / 2)
    width = draw(within(0.4, 0.8)) * room / pieces
    depth = width if table["shape"] == "disc" else draw(within(0.2, 0.5)) * radius
    assume(width >= 1 and depth < 500)
    sides = {"diameter_mm": width} if table["shape"] == "disc" else {"radial_mm": depth, "tangential_mm": 0.8 * width}
    return table | sides | {"pitch_radius_mm": radius}, (radius - depth / 2, radius + depth / 2)


@st.composite
def rotors(draw, thickness_mm):
    """One face or two, with all kinds of steel or none; the gap as wide as the winding needs."""
    plates = st.sampled_from(["none", "ideal", "mild steel"])
    table = {"faces": draw(st.sampled_from([1, 2])), "backing": draw(plates)}
    if table["backing"] == "mild steel":
        table["backing_mm"] = draw(within(0.2, 1.5)) * thickness_mm
        assume(0.1 <= table["backing_mm"] <= 100)
    if table["faces"] == 1:
        table |= draw(
            st.sampled_from([{}, {"return_plate": "ideal"}, {"return_plate": "mild steel", "return_plate_mm": 5}])
        )
    return table | ({} if table["faces"] == 1 and "return_plate" not in table else {"gap_mm": "stack"})


@st.composite
def windings(draw, ring):
    """Any named shape, as deep as the magnets or somewhat more or less."""
    shape = draw(st.sampled_from(NAMED_SHAPES))
    inner, outer = ring[0] * draw(within(0.85, 1.1)), ring[1] * draw(within(0.9, 1.15))
    assume(outer > 1.1 * inner)
    table = {
        "shape": shape,
        "inner_radius_mm": inner,
        "outer_radius_mm": outer,
        "phases": draw(st.sampled_from([1, 2, 3])),
    }
    table |= {"layers": draw(st.integers(1, 6)), "rounds": "fill", "leg": draw(st.sampled_from(["spiral", "chord"]))}
    if table["phases"] == 3:
        table["connection"] = draw(st.sampled_from(["star", "delta", "separate"]))
    return table | draw(
        st.sampled_from([{}, {"start_deg": 17.5}, {"resin_mm": 0.5}, {"clearance_mm": 2}, {"parallel": 2}])
    )


WIRES = st.sampled_from(
    [
        *({"kind": "solid", "copper_mm": mm} for mm in (0.2, 0.4, 0.7, 1.2)),
        {"kind": "solid", "awg": 22, "temperature_c": 120},
        {"kind": "litz", "strand_mm": 0.1, "strands": 20},
        {"kind": "litz", "strand_mm": 0.2, "strands": 7, "lay_mm": 20, "serving_mm": 0.05},
    ]
)

LOADS = st.one_of(
    st.none(),
    st.just({"kind": "open"}),
    st.builds(lambda ohm: {"kind": "resistor", "resistance_ohm": ohm}, within(0.1, 1000)),
    st.builds(lambda ohm: {"kind": "resistor", "resistance_ohm": ohm, "rectifier": "none"}, within(0.1, 1000)),
    st.builds(
        lambda volts, drop, ohm: {"kind": "battery", "voltage_v": volts, "diode_drop_v": drop, "cable_ohm": ohm},
        within(1, 60),
        within(0, 1),
        st.sampled_from([0, 0.1]),
    ),
)

WIND = st.sampled_from(
    [
        None,
        None,
        {"rotor_diameter_m": 1.5, "mean_m_s": 5.0},
        {"rotor_diameter_m": 2.5, "cp_curve": "default", "gear_ratio": 2.0},
    ]
)


@st.composite
def designs(draw):
    """A whole design file that people might write."""
    face, ring = draw(magnets())
    load, wind = draw(LOADS), draw(WIND)
    rotor = draw(rotors(face["thickness_mm"]))
    tables = {"magnets": face, "rotor": rotor, "winding": draw(windings(ring)), "wire": draw(WIRES)}
    if load:
        tables["load"] = load | {"speeds_rpm": [draw(within(20, 3000)), 400.0]}
    return {"title": "Any", **tables, **({"wind": wind} if wind else {})}


@given(content=designs())
@settings(
    max_examples=EXAMPLES,
    derandomize=True,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],  # shrinking a machine takes minutes and makes it no simpler to read
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.function_scoped_fixture],
)
def test_any_design_is_answered_in_balance_and_the_same_when_written_anew(content, written_design):
    try:
        design = read_design(written_design("any", content))
    except DesignError:
        reject()
    with one_thread():
        chain = Chain(design)
        answer = result_dict(result_of(chain))
        for number in numbers_of(json.loads(json.dumps(answer, allow_nan=False))):
            assert math.isfinite(number)
        check_signs(answer)
        for point in answer["output"].get("points", []):
            check_balance(point, design.load)
        check_charging(answer, chain)
        check_written_anew(answer, written_design)


def numbers_of(content):
    if isinstance(content, dict | list):
        inner = content.values() if isinstance(content, dict) else content
        return [number for value in inner for number in numbers_of(value)]
    return [content] if isinstance(content, int | float) else []


def check_signs(answer):
    """What can only be positive is."""
    emf, circuit, winding = answer["emf"], answer["circuit"], answer["winding"]
    assert all(volts >= 0 for volts in emf["harmonics_v_s_per_rad"].values())
    assert emf["rms_v_s_per_rad"] > 0
    assert circuit["resistance_20c_ohm"] > 0
    assert (circuit["resistance_hot_ohm"] > circuit["resistance_20c_ohm"]) == (
        answer["design"]["wire"]["temperature_c"] > 20
    )
    assert circuit["eddy_loss_w_per_krpm2"] >= 0
    assert circuit.get("inductance_h", 1.0) > 0
    assert abs(circuit.get("mutual_inductance_h", 0.0)) < circuit.get("inductance_h", 1.0)
    assert winding["copper_mass_kg"] > 0
    assert 0 < winding["fill"] < 1
    assert 0 < winding["factors"]["belt"] <= 1 + 1e-12
    assert answer["forces"]["rotating_mass_kg"] > 0


def check_balance(point, load):
    """What the shaft gives is what arrives and what is lost on the way."""
    lost = sum(watts for key, watts in point.items() if key.endswith("_loss_w"))
    arrives = point["dc_power_w"] if "dc_power_w" in point else point["ac_power_w"]
    assert point["shaft_power_w"] == pytest.approx(arrives + lost, rel=2e-4, abs=1e-9)
    assert point["shaft_power_w"] == pytest.approx(point["torque_nm"] * point["speed_rpm"] * RPM, rel=1e-9, abs=1e-12)
    assert 0 <= point["efficiency_percent"] <= 100
    assert all(watts >= 0 for key, watts in point.items() if key.endswith("_w"))


def check_charging(answer, chain):
    """Just below the speed that is told no current flows, just above it some does; the wave's top says the same."""
    told, load = answer["output"].get("charging_starts_rpm"), chain.design.load
    if told is None:
        assert load is None or load.kind != "battery"
        return
    waves = np.array(answer["emf"]["waveform"]["phase_v_s_per_rad"])
    connection, ways = chain.design.winding.connection, waves
    if connection == "star" and len(waves) == 3:
        ways = waves - np.roll(waves, 1, axis=0)
    elif connection == "delta":
        ways = waves - waves.mean(axis=0)
    needed = load.voltage_v + 2 * load.diode_drop_v
    assert needed / (told * RPM) == pytest.approx(np.abs(ways).max(), rel=2e-3)
    around = told * RPM * np.array([0.99, 1.02])
    parts = chain.emf, chain.impedance, chain.inductance, chain.losses
    below, above = deliver(*parts, chain.design.winding, load, around).points
    assert below.dc_current_a == 0
    assert above.dc_current_a > 0


def check_written_anew(answer, written_design):
    """The design in the result file is a design file: of the same hash, and with the same numbers."""
    again = read_design(written_design("any", answer["design"]))
    assert design_hash(again) == answer["design_hash"]
    repeated = result_dict(result_of(Chain(replace(again, name=answer["name"]))))
    first, second = (numbers_of({k: v for k, v in said.items() if k != "mesh"}) for said in (answer, repeated))
    np.testing.assert_allclose(second, first, rtol=1e-6, atol=1e-6)  # watts, where current just begins to flow


@pytest.fixture
def written_design(tmp_path):
    """Write a design as a file; what is written can be read again."""

    def write(name, content) -> Path:
        path = tmp_path / f"{name}.toml"
        path.write_text(_toml(content), encoding="utf-8")
        assert tomllib.loads(path.read_text(encoding="utf-8")) == content
        return path

    return write


def _toml(content):
    lines = [f"title = {json.dumps(content['title'])}"]
    for name, table in content.items():
        if isinstance(table, dict):
            lines += [f"[{name}]", *(f"{key} = {json.dumps(value)}" for key, value in table.items())]
    return "\n".join(lines)
