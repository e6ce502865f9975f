"""The bundled designs read without a fault or a note, and are what their first line says."""

import pytest

from fieldrun.design.examples import example_description, example_names, example_path
from fieldrun.design.model import Arc, Block, Disc
from fieldrun.design.read import design_hash, read_design
from fieldrun.winding.lay import lay_faults


@pytest.mark.parametrize("name", example_names())
def test_reads_and_can_be_laid(name: str) -> None:
    design = read_design(example_path(name), [lay_faults])
    assert design.name == name
    assert design.notes == ()
    assert 60 < len(example_description(name)) < 140
    assert len(example_path(name).read_text().splitlines()) < 50


def test_three_machines_of_three_kinds() -> None:
    hut, plank, quiet = (read_design(example_path(name)) for name in ("hut-charger", "plank-ring", "quiet-halbach"))
    assert example_names() == ("hut-charger", "plank-ring", "quiet-halbach")
    assert len({design_hash(design) for design in (hut, plank, quiet)}) == 3
    assert [type(design.magnets.outline) for design in (hut, plank, quiet)] == [Disc, Arc, Block]
    assert (hut.magnets.count, hut.rotor.faces, hut.rotor.backing is None) == (16, 2, False)
    assert (plank.rotor.faces, plank.rotor.gap_m, plank.rotor.backing) == (1, None, None)
    assert (quiet.magnets.pattern, quiet.rotor.faces, quiet.rotor.backing) == ("halbach", 2, None)
    assert hut.turbine is not None


def test_unknown_example() -> None:
    with pytest.raises(KeyError):
        example_path("../hut-charger")
