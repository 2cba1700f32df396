"""Array types of the house, and the one way to freeze an array that a value holds."""

from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Bytes8 = NDArray[np.uint8]
_Array = TypeVar("_Array", bound=NDArray[Any])

__all__ = ["Bools", "Bytes8", "Floats", "Ints", "frozen_floats", "frozen_ints", "locked"]


def frozen_floats(values: ArrayLike) -> Floats:
    """A read-only float64 copy of `values`; the caller's array is never touched."""
    array = np.array(values, dtype=np.float64, order="C")
    array.setflags(write=False)
    return array


def frozen_ints(values: ArrayLike) -> Ints:
    """A read-only int64 copy of `values`."""
    array = np.array(values, dtype=np.int64, order="C")
    array.setflags(write=False)
    return array


def locked(array: _Array) -> _Array:
    """A read-only copy of `array`, its type kept."""
    copy = array.copy()
    copy.setflags(write=False)
    return copy
