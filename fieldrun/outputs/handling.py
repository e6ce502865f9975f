"""The pull across the gap as the builder meets it: on the bench, with fingers nearby."""

from fieldrun.design.model import Rotor
from fieldrun.generator.forces import Forces
from fieldrun.outputs.sentences import plain

KGF = 9.80665
"""Newtons in a kilogram-force: standard gravity, exact by definition (CGPM 1901)."""

STRONG_N = 100.0
"""More than a hand holds apart for certain: from here on the builder is told how to put the machine together."""

UNSURE = 0.01
"""Share of the pull that may be missing before the builder is told."""


def pull_rows(forces: Forces, rotor: Rotor) -> list[tuple[str, str, str]]:
    """The pull as a row of the table, in newtons and in what a spring balance shows; none without a second part."""
    if forces.disc_pull_n is None:
        return []
    between = "pull between the discs" if rotor.faces == 2 else "pull on the plate"
    weight = f"the weight of {plain(forces.disc_pull_n / KGF, 'kg')}"
    short = "; too few harmonics to be sure, perhaps more" if forces.cut_off > UNSURE else ""
    return [(between, plain(forces.disc_pull_n, "N"), weight + short)]


def handling_caution(forces: Forces, rotor: Rotor) -> str:
    """How to put together what pulls hard (common practice); empty where a hand can hold it."""
    if forces.disc_pull_n is None or forces.disc_pull_n < STRONG_N:
        return ""
    parts = "the two discs" if rotor.faces == 2 else "disc and plate"
    return (
        f"Caution: {parts} pull together with the weight of {plain(forces.disc_pull_n / KGF, 'kg')} at the full "
        "gap, and harder the closer they come. Lower one onto spacers with jacking screws, never with fingers between."
    )
