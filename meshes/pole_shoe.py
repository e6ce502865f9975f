"""A section of your own with nothing but gmsh: a magnet under a steel pole shoe, for the design "hut-charger".

    python meshes/pole_shoe.py OUT.msh

Lengths in mm. Magnet and shoe together are as high as the design's thickness_mm (6), so that the gap begins at y = 0.
"""

import sys

import gmsh

HALF_PITCH = 3.141592653589793 * 66 / 16  # 16 magnets on a circle of radius 66
MAGNET_WIDTH, MAGNET_FOOT, SHOE = 10.0, -6.0, 1.0
BACK, BOTTOM = MAGNET_FOOT - 6, MAGNET_FOOT - 6 - 6  # a 6 mm steel disc, then some air
MIDDLE_OF_GAP = 4.0


def draw() -> dict[str, list[int]]:
    """Draw the rectangles, cut them by one another, and say which surface is what."""
    occ = gmsh.model.occ
    height = MIDDLE_OF_GAP - BOTTOM
    box = occ.addRectangle(0, BOTTOM, 0, HALF_PITCH, height)
    parts = {
        "magnet_up": occ.addRectangle(0, MAGNET_FOOT, 0, MAGNET_WIDTH, -SHOE - MAGNET_FOOT),
        "shoe": occ.addRectangle(0, -SHOE, 0, MAGNET_WIDTH + 1, SHOE),
        "disc": occ.addRectangle(0, BACK, 0, HALF_PITCH, MAGNET_FOOT - BACK),
    }
    _, pieces = occ.fragment([(2, box)], [(2, tag) for tag in parts.values()])  # now neighbours share their sides
    occ.synchronize()
    surfaces = {name: [tag for _, tag in own] for name, own in zip(["box", *parts], pieces, strict=True)}
    solid = surfaces["magnet_up"] + surfaces["shoe"] + surfaces["disc"]
    return {
        "magnet_up": surfaces["magnet_up"],
        "steel": surfaces["shoe"] + surfaces["disc"],
        "air": [tag for tag in surfaces["box"] if tag not in solid],
    }


def sides_at(x0: float, y0: float, x1: float, y1: float) -> list[int]:
    """Curves that lie on a side of the box."""
    slack = 1e-6
    found = gmsh.model.getEntitiesInBoundingBox(x0 - slack, y0 - slack, -slack, x1 + slack, y1 + slack, slack, dim=1)
    return [tag for _, tag in found]


def main(path: str) -> None:
    """Draw, name, mesh, write."""
    gmsh.initialize([], readConfigFiles=False, interruptible=False)
    gmsh.option.setNumber("General.Terminal", 0)
    surfaces = draw()
    lines = {
        "pole_centre": sides_at(0, BOTTOM, 0, MIDDLE_OF_GAP),
        "pole_edge": sides_at(HALF_PITCH, BOTTOM, HALF_PITCH, MIDDLE_OF_GAP),
        "open_side": sides_at(0, BOTTOM, HALF_PITCH, BOTTOM),
    }
    for dimension, groups in ((2, surfaces), (1, lines)):
        for name, tags in groups.items():
            gmsh.model.addPhysicalGroup(dimension, tags, name=name)
    gmsh.option.setNumber("Mesh.MeshSizeMax", 1.0)
    gmsh.option.setNumber("Mesh.Binary", 1)
    gmsh.model.mesh.generate(2)
    gmsh.write(path)
    gmsh.finalize()


if __name__ == "__main__":
    main(sys.argv[1])
