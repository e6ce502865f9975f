"""A closed surface of triangles, and its STL."""

from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Floats, Ints, frozen_array


@dataclass(frozen=True, eq=False)
class Skin:
    """A closed surface: corners (n, 3) [mm] and triangles (t, 3), counterclockwise seen from outside."""

    points: Floats
    triangles: Ints

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "points", frozen_array(self.points))
        object.__setattr__(self, "triangles", frozen_array(self.triangles, np.int64))


def outward(points: Floats, triangles: Ints) -> Ints:
    """Turn the triangles (t, 3) of one closed surface, corners (n, 3) [mm], to run counterclockwise seen from outside.

    From one triangle to the next over their common edge, which both must run through in opposite directions; at last
    all are turned if they enclose less than nothing.
    """
    sides: dict[tuple[int, int], list[int]] = {}
    for i, (a, b, c) in enumerate(triangles.tolist()):
        for edge in ((a, b), (b, c), (c, a)):
            sides.setdefault((min(edge), max(edge)), []).append(i)
    out, seen, waiting = triangles.copy(), np.zeros(len(triangles), bool), [0]
    seen[0] = True
    while waiting:
        a, b, c = out[waiting.pop()].tolist()
        for edge in ((a, b), (b, c), (c, a)):
            for other in sides[min(edge), max(edge)]:
                if not seen[other]:
                    seen[other] = True
                    waiting.append(other)
                    out[other] = _against(out[other], edge)
    return out if volume_of(points, out) > 0 else out[:, ::-1]


def _against(triangle: Ints, edge: tuple[int, int]) -> Ints:
    a, b, c = triangle.tolist()
    return triangle[::-1] if edge in {(a, b), (b, c), (c, a)} else triangle


def volume_of(points: Floats, triangles: Ints) -> float:
    """Volume that a closed surface encloses [mm^3], negative if it is seen from inside: sum of a . (b x c) / 6.

    Parameters
    ----------
    points, triangles : (n, 3) corners [mm] and (t, 3) numbers of them, as in `Skin`
    """
    a, b, c = (points[triangles[:, i]] for i in range(3))
    return float(np.sum(a * np.cross(b, c))) / 6


def stl_bytes(skin: Skin, title: str) -> bytes:
    """A binary STL: 80 letters of title, and for each triangle its normal and corners [mm]."""
    head = f"fieldrun {title}".encode("ascii", "replace")[:80].ljust(80)
    corners = skin.points[skin.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    rows = np.zeros(len(corners), [("vectors", "<f4", (4, 3)), ("spare", "<u2")])
    rows["vectors"] = np.concatenate([normal[:, None], corners], axis=1)
    return head + len(rows).to_bytes(4, "little") + bytes(rows.tobytes())
