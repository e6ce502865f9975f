"""Mutants of section meshes: gmsh files whose counts, numbers, groups, triangles or very bytes are others."""

import functools
import random
import struct
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from fieldrun.field.msh_format import read_msh

Dice = random.Random

FOLDER = Path(__file__).parents[2] / "meshes"

MESHES = (
    ("hut-charger", "hut_charger_chamfered.msh"),
    ("hut-charger", "hut_charger_stepped.msh"),
    ("quiet-halbach", "quiet_halbach_whole_pole.msh"),
)
"""Designs and the meshes that fit them."""

LINE, TRIANGLE, QUAD = 1, 2, 3
"""Gmsh's numbers of the elements that these meshes have."""


@dataclass
class Draft:
    """A mesh in gmsh's terms, all of it words: nothing keeps a mutant from writing what is no number.

    `nodes` hold number, x, y, z; `elements` number, kind, count of tags, physical tag, entity and nodes;
    `names` dimension, tag and name in quotes.
    """

    names: list[list[str]]
    nodes: list[list[str]]
    elements: list[list[str]]
    head: str = "2.2 0 8"
    order: tuple[str, ...] = ("MeshFormat", "PhysicalNames", "Nodes", "Elements")
    counts: tuple[str, ...] = ("", "", "")
    """Of names, nodes and elements, where they shall not be the true ones."""

    def text(self) -> str:
        """MSH 2.2, the form that programs write as text."""
        tables = dict(zip(self.order_of_tables(), (self.names, self.nodes, self.elements), strict=True))
        out = []
        for section in self.order:
            rows = [self.head] if section == "MeshFormat" else [" ".join(row) for row in tables[section]]
            if section != "MeshFormat":
                said = self.counts[self.order_of_tables().index(section)]
                rows.insert(0, said or str(len(rows)))
            out += [f"${section}", *rows, f"$End{section}"]
        return "\n".join(out) + "\n"

    @staticmethod
    def order_of_tables() -> tuple[str, ...]:
        return "PhysicalNames", "Nodes", "Elements"


@functools.cache
def _read(file: str) -> tuple[tuple[tuple[str, ...], ...], ...]:
    mesh = read_msh(FOLDER / file)
    groups = [(2, name) for name in mesh.groups] + [(1, name) for name in mesh.lines]
    names = tuple((str(dim), str(tag), f'"{name}"') for tag, (dim, name) in enumerate(groups, start=1))
    nodes = tuple((str(n), repr(float(x)), repr(float(y)), "0") for n, (x, y) in enumerate(mesh.points.T, start=1))
    kind = TRIANGLE if len(mesh.cells) == 3 else QUAD
    rows = [(kind, int(group) + 1, cell) for cell, group in zip(mesh.cells.T, mesh.group, strict=True)]
    for number, ends in enumerate(mesh.lines.values(), start=len(mesh.groups) + 1):
        rows += [(LINE, number, pair) for pair in ends.T]
    elements = tuple(
        (str(n), str(kind), "2", str(tag), str(tag), *(str(int(node) + 1) for node in nodes_of))
        for n, (kind, tag, nodes_of) in enumerate(rows, start=1)
    )
    return names, nodes, elements


def draft(file: str) -> Draft:
    """A mesh of the project's, to be changed."""
    return Draft(*(list(map(list, rows)) for rows in _read(file)))


NUMBERS = ("nan", "inf", "-inf", "1e308", "-1e308", "1e-320", "1e999", "0", "-1", "1e6", "x", "", "1,5", "1e17")
COUNTS = ("0", "-1", "1", "3", "1000000000000", "9223372036854775807", "99999999999999999999", "x", "", "1.5", "nan")
INDICES = ("0", "-1", "1", "999999", "2147483648", "9223372036854775808", "x", "", "1.5")
NAMES = (
    *('"air"', '"steel"', '"magnet_up"', '"magnet_down"', '"magnet_90"', '"magnet_"', '"magnet_1e400"', '"Magnet_up"'),
    *('"magnet_99999999999999999999999"', '"magnet_٣"', '""', '"', "air", '"\x1b[2J"', '"a\x00b"', '"\u202eria"'),
    *('"pole_edge"', '"open_side"', f'"{"x" * 3000}"', '"two words"', '"<script>alert(1)</script>"', '"magnet_nan"'),
    f'"magnet_{"1" * 5000}"',
)


def _coordinate(dice: Dice, mesh: Draft) -> None:
    dice.choice(mesh.nodes)[dice.choice([1, 1, 2, 2, 3])] = dice.choice(NUMBERS)


def _shifted(dice: Dice, mesh: Draft) -> None:
    """Points drawn a little or far from their place: triangles that are thin, or folded over their neighbours."""
    for node in dice.sample(mesh.nodes, dice.choice([1, 1, 5, len(mesh.nodes)])):
        with_noise = dice.choice([1e-9, 1e-3, 0.1, 1, 10])
        at = dice.choice([1, 2])
        node[at] = repr(_number(node[at]) + dice.gauss(0, with_noise))


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return 0.0


def _scaled(dice: Dice, mesh: Draft) -> None:
    """Metres, inches, mirrored, flat, shifted or turned."""
    along, up = (dice.choice([1, 1, 0, -1, 1e-3, 1e3, 1 / 25.4, 1.01, 1e-200, 1e200]) for _ in range(2))
    move = dice.choice([0, 0, 0, 1, -20, 1e9])
    for node in mesh.nodes:
        x, y = _number(node[1]), _number(node[2])
        x, y = (y, x) if along == up == 0 else (x, y)
        node[1:3] = repr(x * (along or up) + move), repr(y * up)


def _out_of_plane(dice: Dice, mesh: Draft) -> None:
    for node in mesh.nodes:
        node[2:4] = ("0", node[2]) if dice.random() < 0.95 else node[2:4]


def _points_twice(dice: Dice, mesh: Draft) -> None:
    """Points at one place: neighbours that do not share them, or triangles without area."""
    if dice.random() < 0.3:  # every element with points of its own
        places = {node[0]: node for node in mesh.nodes}
        mesh.nodes = []
        for element in mesh.elements:
            for at in range(5, len(element)):
                mesh.nodes.append([str(len(mesh.nodes) + 1), *places.get(element[at], ["0"] * 4)[1:]])
                element[at] = mesh.nodes[-1][0]
        return
    first, second = dice.sample(mesh.nodes, 2)
    at = dice.choice([0, slice(1, 4)])
    second[at] = first[at]  # the number twice, or the place


def _points_unused(dice: Dice, mesh: Draft) -> None:
    mesh.nodes += [[str(len(mesh.nodes) + 1 + n), str(dice.gauss(0, 30)), "0", "0"] for n in range(20)]


def _node_away(dice: Dice, mesh: Draft) -> None:
    del mesh.nodes[dice.randrange(len(mesh.nodes))]


def _turned(dice: Dice, mesh: Draft) -> None:
    """Triangles the other way round, or with a corner twice."""
    for element in dice.sample(mesh.elements, dice.choice([1, 3, len(mesh.elements)])):
        element[5:] = element[5:][::-1] if dice.random() < 0.8 else [element[-1]] * len(element[5:])


def _element_away(dice: Dice, mesh: Draft) -> None:
    """A hole, or a whole group that is empty."""
    if dice.random() < 0.5:
        del mesh.elements[dice.randrange(len(mesh.elements))]
        return
    tag = dice.choice(mesh.elements)[3]
    mesh.elements = [element for element in mesh.elements if element[3] != tag]


def _element_twice(dice: Dice, mesh: Draft) -> None:
    one = list(dice.choice(mesh.elements))
    if dice.random() < 0.5:
        one[3] = dice.choice(mesh.elements)[3]
    mesh.elements.append(one)


def _kind(dice: Dice, mesh: Draft) -> None:
    """Elements of another kind: tetrahedra, curved triangles, points, or a number that means nothing."""
    kind = dice.choice(["1", "2", "3", "4", "5", "8", "9", "10", "15", "16", "21", "36", "0", "-1", "99", "140", "x"])
    for element in dice.sample(mesh.elements, dice.choice([1, 1, len(mesh.elements)])):
        element[1] = kind
        if dice.random() < 0.3:
            element += [dice.choice(mesh.nodes)[0] for _ in range(dice.choice([1, 1, 3, 5]))]


def _index(dice: Dice, mesh: Draft) -> None:
    element = dice.choice(mesh.elements)
    element[dice.randrange(len(element))] = dice.choice(INDICES)


def _corner_elsewhere(dice: Dice, mesh: Draft) -> None:
    """A triangle that reaches to some other point: it folds over others."""
    element = dice.choice(mesh.elements)
    if len(element) > 5:
        element[dice.randrange(5, len(element))] = dice.choice(mesh.nodes)[0]


def _tags(dice: Dice, mesh: Draft) -> None:
    """Elements in another group, in none, or in one without a name."""
    tag = dice.choice([dice.choice(mesh.elements)[3], "0", "99", "-1"])
    for element in dice.sample(mesh.elements, dice.choice([1, 10, len(mesh.elements)])):
        element[3] = tag


def _named(dice: Dice, mesh: Draft) -> None:
    if mesh.names:
        dice.choice(mesh.names)[dice.choice([2, 2, 2, 0, 1])] = dice.choice([*NAMES, *NAMES, "1", "2", "3", "99"])


def _name_away(dice: Dice, mesh: Draft) -> None:
    del mesh.names[dice.randrange(max(len(mesh.names), 1)) if dice.random() < 0.8 else 0 :]


def _count(dice: Dice, mesh: Draft) -> None:
    at = dice.randrange(3)
    mesh.counts = (*mesh.counts[:at], dice.choice(COUNTS), *mesh.counts[at + 1 :])


def _section(dice: Dice, mesh: Draft) -> None:
    """Parts of the file lost, twice, or in another order."""
    parts = list(mesh.order)
    if dice.random() < 0.5:
        del parts[dice.randrange(len(parts))]
    elif dice.random() < 0.5:
        dice.shuffle(parts)
    else:
        parts.append(dice.choice(parts))
    mesh.order = tuple(parts)


def _head(dice: Dice, mesh: Draft) -> None:
    mesh.head = dice.choice(
        ["4.1 0 8", "4 0 8", "1 0 8", "2.2 1 8", "2.2 0 4", "9.9 0 8", "x", "", "2.2", "nan 0 8", "4.1 1 8"]
    )


def _large(dice: Dice, mesh: Draft) -> None:
    """Many more elements than anybody draws, all alike or all loose."""
    mesh.elements += [list(element) for element in mesh.elements] * (20000 // max(len(mesh.elements), 1))


DRAFT_OPS: tuple[tuple[int, Callable[[Dice, Draft], None]], ...] = (
    *((3, _coordinate), (6, _shifted), (4, _scaled), (1, _out_of_plane), (4, _points_twice), (1, _points_unused)),
    *((1, _node_away), (3, _turned), (3, _element_away), (2, _element_twice), (3, _kind), (3, _index)),
    *((3, _corner_elsewhere), (4, _tags), (4, _named), (2, _name_away), (3, _count), (2, _section), (2, _head)),
    (1, _large),
)

OTHER_FORMATS = (
    b"solid magnet\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n",
    b"# vtk DataFile Version 3.0\nx\nASCII\nDATASET UNSTRUCTURED_GRID\nPOINTS 3 double\n0 0 0 1 0 0 0 1 0\n",
    b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
    b'<?xml version="1.0"?><VTKFile type="UnstructuredGrid"></VTKFile>\n',
    b"PK\x03\x04" + bytes(200),
    b"\x89PNG\r\n\x1a\n" + bytes(200),
    b"%PDF-1.7\n",
    b"$MeshFormat\n",
    b"$Comments\nnever ended\n",
    b"$NOD\n1\n1 0 0 0\n$ENDNOD\n$ELM\n0\n$ENDELM\n",
    b"\n" * 100_000,
    b"\x00" * 100_000,
)


def section_mesh(dice: Dice, damaged: Callable[[Dice, bytes], bytes]) -> tuple[str, bytes]:
    """A design's name and a mesh that nearly fits it."""
    design, file = dice.choice(MESHES)
    if dice.random() < 0.25:
        return design, dice.choice([_cut_short, _integers, _noise, damaged])(dice, (FOLDER / file).read_bytes())
    if dice.random() < 0.07:
        return design, dice.choice(OTHER_FORMATS)
    made = draft(file)
    weights, ops = zip(*DRAFT_OPS, strict=True)
    for _ in range(dice.choice([0, 1, 1, 1, 1, 1, 2])):
        if made.nodes and made.elements:
            dice.choices(ops, weights)[0](dice, made)
    data = made.text().encode("utf-8", "surrogatepass")
    return design, damaged(dice, data) if dice.random() < 0.1 else data


def _cut_short(dice: Dice, data: bytes) -> bytes:
    return data[: dice.randrange(len(data))]


def _integers(dice: Dice, data: bytes) -> bytes:
    """Eight or four bytes of a binary file that say another number: a count, a tag, a node, a coordinate."""
    at = dice.randrange(len(data) - 8) if dice.random() < 0.5 else dice.randrange(400)
    number = dice.choice([0, 1, -1, 2**31 - 1, 2**31, 2**40, 2**62, -(2**63), dice.randrange(1000)])
    one = dice.choice([struct.pack("<q", number), struct.pack("<d", dice.choice([float("nan"), 1e300, float("inf")]))])
    return data[:at] + one + data[at + 8 :]


def _noise(dice: Dice, data: bytes) -> bytes:
    """Rubbish after a head that is sound, or nothing else."""
    keep = dice.choice([0, 20, 60, 300, len(data) // 2])
    return data[:keep] + dice.randbytes(dice.choice([100, 5000, len(data)]))
