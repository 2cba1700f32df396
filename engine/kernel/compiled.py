"""The decorator for the few loops that have no vectorised form: compiled where numba can be had, else plain Python.

No `fastmath`: the same bits on every machine and thread count. Loops release the interpreter's lock (`nogil`).
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

__all__ = ["COMPILED", "compiled"]

_F = TypeVar("_F", bound=Callable[..., Any])

try:
    from numba import njit

    COMPILED = True
except ImportError:  # the plain loops give the same numbers, slower
    COMPILED = False


def compiled(function: _F) -> _F:
    """`function` compiled on first call and cached on disk; division by zero gives inf, as in numpy."""
    if not COMPILED:
        return function
    return cast("_F", njit(cache=True, nogil=True, error_model="numpy")(function))
