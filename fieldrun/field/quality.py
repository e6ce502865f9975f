"""How well shaped the elements of a mesh are, in numbers that other programs report too."""

from dataclasses import dataclass

import numpy as np

from fieldrun.field.mesh import SectionMesh


@dataclass(frozen=True)
class MeshQuality:
    """What a mesh is like.

    Parameters
    ----------
    elements : how many
    least_angle_deg : smallest angle between two sides of an element [deg]; 60 and 90 are the best for 3 and 4 sides
    """

    elements: int
    least_angle_deg: float


def mesh_quality(mesh: SectionMesh) -> MeshQuality:
    """Measure every element of a mesh: triangles or quadrilaterals with straight sides.

    Scaled Jacobian: least sine of an element's angles, over sin 60 deg for triangles.
    """
    corners = mesh.mesh.p[:, mesh.mesh.t].transpose(2, 1, 0)  # (e, corners, 2)
    out, back = np.roll(corners, -1, axis=1) - corners, np.roll(corners, 1, axis=1) - corners
    area = np.abs(out[:, :, 0] * back[:, :, 1] - out[:, :, 1] * back[:, :, 0])
    angle = np.arctan2(area, np.sum(out * back, axis=2))
    return MeshQuality(elements=len(corners), least_angle_deg=float(np.degrees(angle.min())))
