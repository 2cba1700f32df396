"""A look at a file that has just come in: what it is, and whether it can be what it says."""

from engine.artwork import Description
from engine.artwork import describe as described
from engine.blank import check_grid

__all__ = ["describe"]


def describe(data: bytes) -> Description:
    """What the bytes of a picture, a drawing or a table are, at little cost; a table's readings are checked.

    Raises
    ------
    NotArtworkError, TooBigError; BlankError where no blank can be made of a table's readings.
    """
    told = described(data)
    if told.kind == "table":
        check_grid(data)
    return told
