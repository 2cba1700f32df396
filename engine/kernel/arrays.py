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
    """`values` as read-only float64; a copy where the caller could still write to them."""
    return _frozen(values, np.dtype(np.float64))


def frozen_ints(values: ArrayLike) -> Ints:
    """`values` as read-only int64; a copy where the caller could still write to them."""
    return _frozen(values, np.dtype(np.int64))


def locked(array: _Array) -> _Array:
    """`array` read-only, its type kept; a copy where the caller could still write to it."""
    if _is_frozen(array):
        return array
    copy = array.copy()
    copy.setflags(write=False)
    return copy


def _frozen(values: ArrayLike, dtype: np.dtype[Any]) -> NDArray[Any]:
    if isinstance(values, np.ndarray) and values.dtype == dtype and values.flags.c_contiguous and _is_frozen(values):
        return values
    array = np.array(values, dtype=dtype, order="C")
    array.setflags(write=False)
    return array


def _is_frozen(array: NDArray[Any]) -> bool:
    """Read-only and no view: frozen by its maker, who keeps no writable view of it (numpy cannot tell)."""
    return bool(array.flags.owndata and not array.flags.writeable)
