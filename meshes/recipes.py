"""Write the reference meshes of this folder anew: sections of two bundled designs, with outlines the design file lacks.

python meshes/recipes.py [FOLDER]
"""

import math
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from fieldrun.design.model import Magnets, Rotor
from fieldrun.design.read import read_design
from fieldrun.field.gmsh_mesh import outline_mesh
from fieldrun.field.mesh_file import write_section_mesh
from fieldrun.field.outline import mean_radius_m
from fieldrun.field.section import Section, section_at

HERE = Path(__file__).parent
EXAMPLES = HERE.parent / "fieldrun" / "design" / "examples"

CHAMFER_M = 1.5e-3
ROUNDING_M = 2e-3
STEP_M = 2e-3
SIDES_OF_ROUNDING = 8

Polygon = tuple[tuple[float, float], ...]


def machine(example: str) -> tuple[Magnets, Rotor]:
    """Magnets and steel of a bundled design."""
    design = read_design(EXAMPLES / f"{example}.toml")
    return design.magnets, design.rotor


def with_magnet(section: Section, outline: Callable[[float, float], Polygon]) -> Section:
    """Draw the half magnet of a half-pole section anew: `outline` gets its half width and its foot [m]."""
    (magnet,) = (region for region in section.regions if region.name == "magnet_up")
    x, z = zip(*magnet.polygon_m, strict=True)
    drawn = replace(magnet, polygon_m=outline(max(x), min(z)))
    return replace(section, regions=tuple(drawn if region is magnet else region for region in section.regions))


def chamfered(width: float, foot: float) -> Polygon:
    """Cut the corner towards the gap at 45 degrees."""
    return ((0, foot), (width, foot), (width, -CHAMFER_M), (width - CHAMFER_M, 0), (0, 0))


def rounded(width: float, foot: float) -> Polygon:
    """Round the corner towards the gap, drawn with short straight sides."""
    turns = [math.pi / 2 * i / SIDES_OF_ROUNDING for i in range(SIDES_OF_ROUNDING + 1)]
    corner = [(width - ROUNDING_M * (1 - math.cos(t)), ROUNDING_M * (math.sin(t) - 1)) for t in turns[:-1]]
    return ((0, foot), (width, foot), *corner, (width - ROUNDING_M, 0), (0, 0))


def stepped(width: float, foot: float) -> Polygon:
    """Two magnets in a stack, the upper one narrower."""
    middle = foot / 2
    return ((0, foot), (width, foot), (width, middle), (width - STEP_M, middle), (width - STEP_M, 0), (0, 0))


OUTLINES = {"chamfered": chamfered, "rounded": rounded, "stepped": stepped}


def write_all(folder: Path) -> list[Path]:
    """Write every reference mesh into a folder."""
    magnets, rotor = machine("hut-charger")
    plain = section_at(magnets, rotor, mean_radius_m(magnets))
    sections = {f"hut_charger_{name}.msh": with_magnet(plain, outline) for name, outline in OUTLINES.items()}
    magnets, rotor = machine("quiet-halbach")
    sections["quiet_halbach_whole_pole.msh"] = section_at(magnets, rotor, mean_radius_m(magnets), "full pole")
    for name, section in sections.items():
        write_section_mesh(folder / name, section, outline_mesh(section))
    return [folder / name for name in sections]


if __name__ == "__main__":
    for written in write_all(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE):
        print(written)
