"""What every shape asks of the lengths it is made from."""

from collections.abc import Sequence
from math import inf

from engine.kernel.errors import BlankError

__all__ = ["refuse_no_length"]


def refuse_no_length(shape: object, names: Sequence[str]) -> None:
    """BlankError, with the field, unless each of these fields of `shape` is a length above 0."""
    for name in names:
        if not 0 < getattr(shape, name) < inf:
            raise BlankError(f"{name} must be above 0", where=f"/blank/{name}", hint="check the reading")
