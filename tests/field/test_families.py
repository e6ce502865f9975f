from dataclasses import replace

from fieldrun.design.examples import example_path
from fieldrun.design.read import read_design
from fieldrun.field.families import families

DESIGN = read_design(example_path("hut-charger"))
MAGNETS, ROTOR = DESIGN.magnets, DESIGN.rotor


def gap(gap_m):
    return replace(ROTOR, gap_m=gap_m)


def test_machines_that_differ_in_the_gap_only_are_one_family_gaps_ascending():
    thicker = replace(MAGNETS, thickness_m=0.01)
    machines = [(MAGNETS, gap(0.012)), (thicker, gap(0.01)), (MAGNETS, gap(0.008)), (thicker, gap(0.009))]
    assert families(machines) == ((2, 0), (3, 1))


def test_other_steel_is_another_family():
    ideal = replace(ROTOR, backing=replace(ROTOR.backing, steel=None))
    assert families([(MAGNETS, ROTOR), (MAGNETS, ideal)]) == ((0,), (1,))


def test_equal_machines_keep_their_order_and_none_is_lost():
    assert families([(MAGNETS, ROTOR), (MAGNETS, ROTOR)]) == ((0, 1),)
    assert families([]) == ()


def test_an_open_face_is_a_family_of_its_own():
    alone = replace(ROTOR, faces=1, gap_m=None)
    assert families([(MAGNETS, alone), (MAGNETS, ROTOR)]) == ((0,), (1,))
