"""Winding factors: what a winding makes of a field, against radial legs that all lie on one line."""

import math
from dataclasses import dataclass

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, Ints, frozen_array
from fieldrun.design.model import Winding, Wire
from fieldrun.winding.lay import Lay
from fieldrun.winding.path import rounds_of
from fieldrun.winding.pieces import ARC, Pieces, lengths
from fieldrun.winding.sampling import distinct, gauss_samples, selected
from fieldrun.winding.turn import raised, turn_edges

ORDERS = (1, 3, 5, 7)
"""Harmonics that factors are usually given for."""

WEAK = 0.1
"""A fundamental factor below this is almost surely a mistake of the pattern."""

NOTHING = 1e-6
"""A factor below this is rounding."""


@dataclass(frozen=True, eq=False)
class Factors:
    """What a winding makes of its wire: factors by harmonic, in a field that is even along the legs; copper shares.

    Parameters
    ----------
    orders : (n,) odd harmonics, the fundamental first
    belt_by_order : (n,) many rounds side by side against as many on one line
    shape_by_order : (n,) one round against one round of radial legs; signed, against radial legs where the round is
        centred. A round that is not mirror symmetric also turns the phase: magnitude, with the sign of what is in phase
    total_by_order : (n,) the whole of the first phase against as many rounds of radial legs on one line
    fill : bare copper of all legs over the ring's annulus times the winding's thickness
    end_copper_share : share of all conductors' length that lies at the ends
    """

    orders: Ints
    belt_by_order: Floats
    shape_by_order: Floats
    total_by_order: Floats
    fill: float
    end_copper_share: float

    def __post_init__(self) -> None:
        """Copy and lock the arrays."""
        object.__setattr__(self, "orders", frozen_array(self.orders, np.int64))
        for name in ("belt_by_order", "shape_by_order", "total_by_order"):
            object.__setattr__(self, name, frozen_array(getattr(self, name)))

    @property
    def belt(self) -> float:
        """Belt factor of the fundamental."""
        return float(self.belt_by_order[0])

    @property
    def shape(self) -> float:
        """Shape factor of the fundamental."""
        return float(self.shape_by_order[0])

    @property
    def total(self) -> float:
        """Winding factor of the fundamental."""
        return float(self.total_by_order[0])

    @property
    def warning(self) -> str | None:
        """What to say if the winding makes almost nothing of the fundamental, with the cause; None if it does."""
        return weakness_text(self.total) if abs(self.total) < WEAK else None


def weakness_text(total: float) -> str:
    """Why a winding of so small a factor gives next to nothing."""
    used = f"{100 * abs(total):.2g} %" if abs(total) > NOTHING else "nothing"
    return (
        f"this winding uses {used} of what its wire could give: its parts cancel each other. "
        "A pattern must repeat every two poles (one north, one south); one that repeats every single pole, a belt "
        "that goes all the way round, or turns much narrower than a pole (a small span) give next to nothing"
    )


def factors(laid: Lay, winding: Winding, wire: Wire, orders: tuple[int, ...] = ORDERS) -> Factors:
    """Factors of a winding as laid.

    Total is computed from all pieces of the first phase. For a named shape, shape comes from one round and belt from
    its closed form, so that their product is a check on total. A path has one factor only: belt is the closed form
    for its copies, shape what remains of total.

    Parameters
    ----------
    laid, winding, wire : the winding
    orders : odd harmonics, the fundamental first
    """
    number = np.array(orders)
    belt = belt_factor(laid.rounds_per_group, laid.pole_pairs * laid.step_rad, number)
    total, shape = _of_path(laid, belt, number) if winding.shape == "path" else _of_shape(laid, winding, number)
    return Factors(number, belt, shape, total, fill(laid, wire), end_copper_share(laid.pieces))


def _of_path(laid: Lay, belt: Floats, orders: Ints) -> tuple[Floats, Floats]:
    total = np.abs(_first_phase(laid, orders))
    return total, np.abs(_share(total.astype(complex), belt))


def _of_shape(laid: Lay, winding: Winding, orders: Ints) -> tuple[Floats, Floats]:
    unturned = np.exp(-1j * laid.pole_pairs * winding.start_rad * orders)
    return _signed(_first_phase(laid, orders) * unturned), _signed(_one_round(laid, winding, orders))


def _first_phase(laid: Lay, orders: Ints) -> Complexes:
    first = selected(laid.pieces, laid.pieces.phase == 0)
    reference = rounds_of(laid.pieces, laid.pole_pairs) * _radial_round(laid, orders)
    return _share(cut_in_unit_field(first, laid.pole_pairs, orders), reference)


def _share(part: Complexes, whole: Complexes | Floats) -> Complexes:
    """Part over whole, and nothing where there is no whole (a path that never passes the middle of its ring)."""
    return np.divide(part, whole, where=whole != 0, out=np.zeros_like(part))


def belt_factor(rounds: int, step: float, orders: Ints) -> Floats:
    """sin(N n x/2) / (N sin(n x/2)): N rounds, x electrical radians apart, added up, over N times one.

    For many rounds it tends to sin(n b/2) / (n b/2), the factor of a belt b = N x.

    Parameters
    ----------
    rounds : N
    step : x [electrical rad]
    orders : (n,)

    Returns
    -------
    (n,) factors
    """
    offset = (np.arange(rounds) - (rounds - 1) / 2) * step
    return np.asarray(np.cos(np.outer(orders, offset)).mean(axis=1))


def cut_in_unit_field(pieces: Pieces, pole_pairs: int, orders: Ints) -> Complexes:
    """EMF per speed of conductors where b_n = 1 T: -integral of r exp(j n p theta) dr along them, (n,) [V s/rad]."""
    different = distinct(pieces)
    samples = gauss_samples(different.pieces, np.empty(0), float(pole_pairs * orders.max()))
    wave = np.exp(1j * pole_pairs * np.outer(orders, samples.point[:, 1]))
    terms = -samples.point[:, 0] * samples.step[:, 0] * wave
    own = np.stack([np.bincount(samples.piece, t.real) + 1j * np.bincount(samples.piece, t.imag) for t in terms])
    turned = np.exp(1j * pole_pairs * np.outer(orders, pieces.start[:, 1]))
    return np.asarray(np.sum(own[:, different.which] * turned, axis=1))


def _radial_round(laid: Lay, orders: Ints) -> Complexes:
    """What one round of radial legs at 0 and tau cuts: -p (r2^2 - r1^2)/2 (1 - exp(j n pi))."""
    leg = (laid.outer_radius_m**2 - laid.inner_radius_m**2) / 2
    return np.asarray(-laid.pole_pairs * leg * (1 - np.exp(1j * np.pi * orders)))


def _one_round(laid: Lay, winding: Winding, orders: Ints) -> Complexes:
    """One turn against one turn of radial legs, wherever it stands: turns of a round all add up."""
    kind, start, end = raised(turn_edges(winding, laid.pole_pairs), winding.height_m, winding.height_m)
    turn = Pieces(kind, start, end, np.zeros_like(kind), np.zeros_like(kind))
    return laid.pole_pairs * cut_in_unit_field(turn, laid.pole_pairs, orders) / _radial_round(laid, orders)


def _signed(ratio: Complexes) -> Floats:
    return np.asarray(np.abs(ratio) * np.where(ratio.real < 0, -1.0, 1.0))


def fill(laid: Lay, wire: Wire) -> float:
    """Bare copper of all legs, without what lies at the ends, over the annulus r1..r2 times the winding's thickness.

    N pi d^2 / 4 x strands' length over the bundle's x legs' length / (pi (r2^2 - r1^2) t) [1]; 0 without an annulus.
    """
    legs = float(np.sum(lengths(laid.pieces)[~at_ends(laid.pieces)]))
    ring = math.pi * (laid.outer_radius_m**2 - laid.inner_radius_m**2)
    copper = wire.strands * math.pi / 4 * wire.strand_diameter_m**2 * wire.length_factor
    return copper * legs / (ring * laid.thickness_m) if ring > 0 else 0.0


def end_copper_share(pieces: Pieces) -> float:
    """Share of all conductors' length in arcs and in vertical pieces at tips: wire that cuts no axial field."""
    length = lengths(pieces)
    return float(np.sum(length[at_ends(pieces)]) / np.sum(length))


def at_ends(pieces: Pieces) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Which pieces are ends: arcs, and lines that only rise, (m,)."""
    rises_only = np.all(pieces.start[:, :2] == pieces.end[:, :2], axis=1)
    return np.asarray((pieces.kind == ARC) | rises_only)
