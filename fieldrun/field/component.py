"""A component of a field map: an array, or what makes one where it is asked for."""

from typing import Protocol

import numpy as np

from fieldrun.design.arrays import Complexes, Floats, frozen_array


class Made(Protocol):
    """A component's amplitudes that are made where they are asked for: a sweep looks at a few heights of each map."""

    def whole(self) -> Complexes:
        """(n, r, z) at the map's radii and heights [T]."""
        ...

    def weighted(self, heights: Floats, orders: int | None, radii: Floats | None) -> Complexes | Floats:
        """Sums with weights (z, h) over the heights, and (q, r) over the radii if given, of all or of the first few
        harmonics: (n, q or r, h) [T].
        """
        ...


class Component:
    """A map's component: an array (n, r, z), read-only, or what makes it; what was made once is kept."""

    def __set_name__(self, owner: type, name: str) -> None:
        """Learn the component's name."""
        self.name, self.whole = name, f"{name}, made"

    def __set__(self, field_map: object, value: Complexes | Made) -> None:
        """Store amplitudes when a map is made."""
        vars(field_map)[self.name] = value

    def __get__(self, field_map: object | None, owner: type) -> Complexes:
        """Give the array."""
        if field_map is None:
            raise AttributeError(self.name)  # what tells dataclasses that there is no default
        known = vars(field_map)
        value: Complexes | Made = known.get(self.whole, known[self.name])
        if not isinstance(value, np.ndarray):
            value = known[self.whole] = frozen_array(value.whole(), np.complex128)
        return value
