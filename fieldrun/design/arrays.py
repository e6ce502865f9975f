"""Arrays in results: copied in, and never writeable afterwards."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Ints = NDArray[np.int64]


def frozen_array(values: ArrayLike, dtype: type[Any] = np.float64) -> NDArray[Any]:
    """Return a read-only copy of `values`, shaped like them, in their unit; refuse anything that is not finite.

    Raises
    ------
    FloatingPointError
        If a value is NaN or infinite: no such number may leave a function.
    """
    array = np.array(values, dtype=dtype)
    if not np.isfinite(array).all():
        raise FloatingPointError("a result array holds NaN or infinity")
    array.setflags(write=False)
    return array
