"""Images of magnets in ideal plates, against mirrors applied over and over."""

import pytest

from fieldrun.design.model import Disc, Magnets, Plate, Rotor
from fieldrun.reference.images import image_bodies

MAGNETS = Magnets(Disc(0.020, 0.066), 16, 0.006, 1.3, 1.0, 7500.0)
IDEAL = Plate(None)
GAP, H = 0.009, 0.006
REACH = 0.1


def rotor(faces: int, gap: float | None, backing: Plate | None, plate: Plate | None) -> Rotor:
    return Rotor(faces, gap, backing, plate, 0.0, 0.1)


CASES = {  # the machine, its magnets and the planes of its plates
    "face": (rotor(1, None, None, None), [(-H, 0)], []),
    "face on steel": (rotor(1, None, IDEAL, None), [(-H, 0)], [-H]),
    "face on steel, plate": (rotor(1, GAP, IDEAL, IDEAL), [(-H, 0)], [-H, GAP]),
    "face, plate": (rotor(1, GAP, None, IDEAL), [(-H, 0)], [GAP]),
    "two faces": (rotor(2, GAP, None, None), [(-H, 0), (GAP, GAP + H)], []),
    "two faces on steel": (rotor(2, GAP, IDEAL, None), [(-H, 0), (GAP, GAP + H)], [-H, GAP + H]),
}


def covered(bodies: list[tuple[float, float]], within: float) -> list[tuple[float, float]]:
    """Intervals of z that the bodies cover, touching ones joined, up to a distance from the gap [mm, rounded]."""
    joined: list[list[float]] = []
    for low, high in sorted((round(1e3 * low, 6), round(1e3 * high, 6)) for low, high in bodies):
        if joined and low <= joined[-1][1]:
            joined[-1][1] = max(joined[-1][1], high)
        else:
            joined.append([low, high])
    return [(low, high) for low, high in joined if -1e3 * within < low and high < 1e3 * (within + GAP)]


@pytest.mark.parametrize("case", CASES)
def test_images_are_what_mirrors_make(case: str) -> None:
    machine, bodies, plates = CASES[case]
    for _ in range(20):
        bodies = bodies + [(2 * z - high, 2 * z - low) for z in plates for low, high in set(bodies)]
        bodies = list({(round(low, 9), round(high, 9)) for low, high in bodies})
    found = image_bodies(MAGNETS, machine, REACH)
    assert len(set(found)) == len(found)
    assert covered(list(found), REACH) == covered(bodies, REACH)


def test_a_longer_reach_only_adds_images() -> None:
    machine = CASES["two faces on steel"][0]
    assert set(image_bodies(MAGNETS, machine, 0.05)) < set(image_bodies(MAGNETS, machine, 0.2))
