import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.patches import PathPatch

from fieldrun.design.model import Arc, Block, Disc, Magnets, Winding, Wire
from fieldrun.outputs.magnet_bodies import bodies_of, reach_mm
from fieldrun.outputs.style import save_figure
from fieldrun.outputs.winding_picture import middles, winding_picture
from fieldrun.outputs.wire_lines import phase_pieces, phase_start, plan_points, wire_path, within
from fieldrun.outputs.wire_work import Window, WireWork, work_lines
from fieldrun.winding.lay import lay
from fieldrun.winding.pieces import ARC, LINE, Pieces, lengths

WIRE = Wire("solid", 0.0005, 1, 0.000544)
DISCS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.05, 7500.0)
BLOCKS = Magnets(Block(0.024, 0.016, 0.066), 12, 0.006, 1.3, 1.05, 7500.0)
ARCS = Magnets(Arc(0.050, 0.080, 0.8), 2, 0.006, 1.3, 1.05, 7500.0)
HALBACH = Magnets(Arc(0.050, 0.080, 1.0), 8, 0.006, 1.3, 1.05, 7500.0, pattern="halbach", segments_per_pole=2)


def wound(magnets, shape="serpentine", phases=3, rounds=2):
    winding = Winding(shape, 0.054, 0.078, phases, rounds, 1, 0.0045, leg="spiral")
    return lay(winding, magnets.pole_pairs, WIRE).pieces


def made_up_share(pieces, count=8):
    """Volts that fall from the start of every piece to its end and change sign on the way."""
    return np.tile(np.linspace(0.3, -0.1, count), (pieces.count, 1))


def picture(magnets=DISCS, shape="serpentine", phases=3, phase=0):
    pieces = wound(magnets, shape, phases)
    return winding_picture(pieces, magnets, made_up_share(pieces), 200.0, phase)


def written(figure, folder):
    svg, png = save_figure(figure, folder, "winding", {"design hash": "8f3a"})
    text = svg.read_text()
    return ET.fromstring(text), text, png  # noqa: S314 our own file


@pytest.mark.parametrize(
    ("magnets", "shape", "phases"),
    [
        (DISCS, "zigzag", 3),
        (DISCS, "diamond", 1),
        (BLOCKS, "serpentine", 2),
        (ARCS, "serpentine", 1),
        (HALBACH, "rhomboid", 3),
    ],
)
def test_it_draws_every_kind_of_machine(magnets, shape, phases, tmp_path):
    root, text, png = written(picture(magnets, shape, phases), tmp_path)
    words = "".join(root.itertext())
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert not re.search(r"\bnan\b|\binf\b", text)
    assert png.stat().st_size > 20_000
    assert "where it starts" in words
    assert "works against (pale core)" in words
    assert re.search(r"\d+ mm", words)
    for number in range(phases):
        assert f"phase {number + 1}" in words
    assert words.count("N") >= magnets.count // 2


def test_it_says_in_words_what_it_shows():
    label = picture().get_label()
    assert label.startswith("The winding to scale over 16 magnet poles.")
    works, idles, against = (int(number) for number in re.findall(r"(\d+) %", label))
    assert works + idles + against == 100


def test_phases_differ_in_colour_and_in_line():
    machine = picture().axes[0]
    lines = [patch for patch in machine.patches if isinstance(patch, PathPatch)]
    assert len(lines) == 3
    assert len({line.get_edgecolor() for line in lines}) == 3
    assert len({str(line.get_linestyle()) for line in lines}) == 3


def contribution(figure):
    (found,) = (
        artist for artist in figure.axes[1].collections if isinstance(artist, LineCollection) and artist.get_gid()
    )
    return found


def test_only_lines_that_reach_over_the_edge_are_cut_off():
    """Those that are not lie inside; together they are all that can be seen of the wire."""
    pieces = wound(DISCS, "zigzag")
    work, window = WireWork(pieces, made_up_share(pieces), 0), Window(50.0, 85.0, math.pi / 8)
    lines = work_lines(work, np.arange(pieces.count), 0.0, window)
    clear, cut = (np.array(drawn.get_segments()) for drawn in (lines.wire, lines.cut[0]))
    ends = plan_points(pieces, work.cuts, 0.0)
    every = np.stack([ends[:, :-1], ends[:, 1:]], axis=2).reshape(-1, 2, 2)
    along = every[:, :1] + np.linspace(0, 1, 9)[:, None] * (every[:, 1:] - every[:, :1])
    sight = (np.abs(np.arctan2(along[..., 0], along[..., 1])) < math.pi / 8).any(axis=1)
    drawn = {segment.tobytes() for segment in np.concatenate([clear, cut])}
    assert {segment.tobytes() for segment in every[sight]} <= drawn
    assert len(drawn) < len(every) / 4
    assert np.abs(np.arctan2(clear[..., 0], clear[..., 1])).max() < math.pi / 8
    assert len(clear) > len(cut) > 0
    clipped = [artist.get_clip_path() is not None for artist in picture(shape="zigzag").axes[1].collections]
    assert clipped == [True, True, True, False, False]  # magnets, what is cut, what lies clear


def test_colours_are_volts_per_millimetre_at_the_speed():
    """0.3 V s/rad per m at 200 rpm is 0.3 x 20.94 V per m: 6.28 mV per mm."""
    wire = contribution(picture())
    assert wire.norm.vmax == pytest.approx(0.3 * 200 * math.pi / 30, rel=1e-12)
    assert wire.norm.vmin == -wire.norm.vmax
    assert np.max(wire.get_array()) == pytest.approx(wire.norm.vmax, rel=1e-12)
    assert "6.28 mV/mm of wire" in picture().axes[2].get_xticklabels()[2].get_text()


def test_wire_is_wider_where_it_gives_more():
    wire = contribution(picture())
    order = np.argsort(np.abs(wire.get_array()))
    assert np.all(np.diff(np.array(wire.get_linewidths())[order]) >= 0)


def test_portions_are_lengths_of_wire():
    """Radial legs work, arcs idle: the percentage is the legs' part of the phase's wire."""
    pieces = wound(DISCS)
    share = np.where((pieces.kind == ARC)[:, None], 0.0, np.ones((pieces.count, 4)))
    legs = lengths(pieces)[(pieces.kind != ARC) & (pieces.phase == 1)].sum()
    part = round(100 * legs / lengths(pieces)[pieces.phase == 1].sum())
    label = winding_picture(pieces, DISCS, share, 200.0, phase=1).get_label()
    assert f"{part} % of phase 2's wire works, {100 - part} % idles, 0 % works against" in label


def test_a_phase_without_volts_idles(tmp_path):
    pieces = wound(DISCS)
    figure = winding_picture(pieces, DISCS, np.zeros((pieces.count, 4)), 200.0)
    assert "0 % of phase 1's wire works, 100 % idles" in figure.get_label()
    _, text, _ = written(figure, tmp_path)
    assert not re.search(r"\bnan\b", text)


def test_the_same_winding_gives_the_same_bytes(tmp_path):
    first, second = (save_figure(picture(), tmp_path / name, "w", {}) for name in ("a", "b"))
    assert first[0].read_bytes() == second[0].read_bytes()


def test_middles():
    assert middles(4) == pytest.approx([0.125, 0.375, 0.625, 0.875])


def test_path_follows_the_wire_without_lifting_the_pen_inside_a_loop():
    pieces = wound(DISCS)
    own = phase_pieces(pieces, 0)
    path = wire_path(own, 0.0)
    assert np.sum(path.codes == path.MOVETO) == len(set(own.loop.tolist()))
    steps = np.linalg.norm(np.diff(path.vertices, axis=0), axis=1)
    drawn = steps[path.codes[1:] == path.LINETO].sum()
    assert drawn == pytest.approx(1000 * lengths(own).sum(), rel=2e-4)


def test_straight_wire_needs_two_points():
    two = Pieces([LINE, LINE], [[0.05, 0, 0], [0.08, 1.0, 0]], [[0.08, 0.1, 0], [0.05, 1.1, 0]], [0, 0], [0, 0])
    path = wire_path(two, 0.0)
    assert len(path.vertices) == 4
    assert list(path.codes) == [path.MOVETO, path.LINETO, path.MOVETO, path.LINETO]


def test_plan_turns_and_scales():
    one = Pieces([LINE], [[0.05, 0, 0.001]], [[0.08, 0.0, 0.001]], [0], [0])
    assert plan_points(one, np.array([0.0, 1.0]), math.pi / 2)[0] == pytest.approx(np.array([[0, 50], [0, 80]]))
    assert phase_start(one, 0, 0.0) == pytest.approx((50, 0))


def test_sector_takes_what_reaches_into_it_and_nothing_else():
    angles = np.array([-0.5, -0.11, 0.0, 0.11, 0.5, 2 * math.pi - 0.05])
    start = np.stack([np.full(6, 0.05), angles - 0.02, np.zeros(6)], axis=1)
    end = np.stack([np.full(6, 0.08), angles + 0.02, np.zeros(6)], axis=1)
    pieces = Pieces([LINE] * 6, start, end, [0, 0, 0, 0, 0, 0], range(6))
    assert within(pieces, 0, 0.0, 0.1).tolist() == [1, 2, 3, 5]
    assert within(pieces, 1, 0.0, 0.1).tolist() == []


def test_bodies_alternate_or_turn():
    assert [round(math.cos(body.turn_rad)) for body in bodies_of(DISCS)] == [1, -1] * 8
    halbach = bodies_of(HALBACH)
    assert len(halbach) == 16
    assert [round(math.degrees(body.turn_rad)) for body in halbach[:4]] == [0, 90, 180, 270]
    assert halbach[1].angle_rad == pytest.approx(math.pi / 8)


@pytest.mark.parametrize(
    ("magnets", "reach"),
    [(DISCS, (56, 76)), (ARCS, (50, 80)), (BLOCKS, (54, math.hypot(78, 8)))],
)
def test_reach_of_the_magnets(magnets, reach):
    assert reach_mm(magnets.outline) == pytest.approx(reach)
