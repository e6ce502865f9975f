"""The generator of a changed design, with as little computed anew as the change touches."""

from dataclasses import dataclass, replace

from fieldrun.design.model import Design
from fieldrun.field.solve import RotorField
from fieldrun.generator.chain import Chain
from fieldrun.generator.emf import Emf, emf_of
from fieldrun.generator.impedance import Impedance
from fieldrun.generator.inductance import Inductance
from fieldrun.generator.losses import Circuit, Losses, losses_of
from fieldrun.generator.result import RunResult
from fieldrun.winding.lay import Lay


@dataclass(frozen=True, eq=False)
class Generator:
    """A design with everything that its load sees of it; `losses` may lack those round a delta."""

    design: Design
    field: RotorField
    lay: Lay
    circuit: Circuit
    losses: Losses


def generator_of(result: RunResult) -> Generator:
    """The generator of a design that was answered."""
    circuit = Circuit(result.emf, result.impedance, result.inductance)
    return Generator(result.design, result.field, result.lay, circuit, result.losses)


def changed_generator(design: Design, base: Generator) -> Generator:
    """The generator of a design that differs from another one in something.

    Magnets and steel alike share the field. The same conductors joined otherwise (star, delta, strands or groups in
    series) are the same generator scaled, to rounding: k times as many in series give k times the EMF, k^2 times the
    resistance and the inductance.

    Raises
    ------
    DesignError, SolveError
        As the stages do.
    """
    same_field = (design.magnets, design.rotor) == (base.design.magnets, base.design.rotor)
    if same_field and _same_conductors(design, base.design):
        return _joined_otherwise(design, base)
    chain = Chain(design, base.field if same_field else None)
    if not _same_inductance(design, base.design):
        return Generator(design, chain.field, chain.lay, chain.circuit, chain.losses)
    circuit = Circuit(chain.emf, chain.impedance, base.circuit.inductance)
    losses = losses_of(chain.field.field_map, chain.lay, design.winding, design.wire, circuit)
    return Generator(design, chain.field, chain.lay, circuit, losses)


def _same_inductance(design: Design, other: Design) -> bool:
    """Whether nothing is changed but how strong the magnets are, to which the inductance is blind."""
    magnets = replace(design.magnets, remanence_t=other.magnets.remanence_t, grade=other.magnets.grade)
    magnets = replace(magnets, recoil_permeability=other.magnets.recoil_permeability)
    return (magnets, design.rotor) == (other.magnets, other.rotor) and _alike(design, other)


def _alike(design: Design, other: Design) -> bool:
    return (design.winding, design.wire, design.file_hashes) == (other.winding, other.wire, other.file_hashes)


def _same_conductors(design: Design, other: Design) -> bool:
    """Whether two windings differ in nothing but how their ends are joined; path files are compared by content."""
    winding = replace(design.winding, connection=other.winding.connection, parallel=other.winding.parallel)
    wire = replace(design.wire, strands_in_series=other.wire.strands_in_series)
    return _alike(replace(design, winding=winding, wire=wire), other)


def _joined_otherwise(design: Design, base: Generator) -> Generator:
    k = _in_series(design) / _in_series(base.design)
    circuit = scaled(base.circuit, k, star=design.winding.connection == "star")
    return Generator(design, base.field, base.lay, circuit, _losses(design, base, circuit))


def _losses(design: Design, base: Generator, circuit: Circuit) -> Losses:
    """What the current round a delta wastes is the load's to count, from the currents of the phases."""
    if _in_series(design) == _in_series(base.design):
        return replace(base.losses, delta_a_krpm=None, delta_w_krpm2=0.0)
    return losses_of(base.field.field_map, base.lay, design.winding, design.wire, circuit)


def _in_series(design: Design) -> float:
    return design.wire.strands_in_series / design.winding.parallel


def scaled(circuit: Circuit, k: float, *, star: bool) -> Circuit:
    """A phase with k times as much in series: EMF k, resistance and inductance k^2.

    Parameters
    ----------
    circuit : one way of joining
    k : conductors in series over those of `circuit`
    star : whether lines are the ends of a star now
    """
    emf, copper, henries = circuit.emf, circuit.copper, circuit.inductance
    return Circuit(
        emf=_emf(emf, k, star=star),
        copper=_copper(copper, k),
        inductance=None if henries is None else Inductance(k**2 * henries.matrix_h),
    )


def _emf(emf: Emf, k: float, *, star: bool) -> Emf:
    return emf_of(emf.pole_pairs, emf.orders, k * emf.amplitudes, star=star)


def _copper(copper: Impedance, k: float) -> Impedance:
    cold, hot = copper.resistance_20c_ohm, copper.resistance_hot_ohm
    return replace(copper, resistance_20c_ohm=k**2 * cold, resistance_hot_ohm=k**2 * hot)
