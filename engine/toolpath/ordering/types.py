"""The shapes that the ordering's compiled loops pass to each other.

Array : numbers of the width that the loop needs (ends and links are whole, places are float). Law : the hop law as
plain numbers (see `Axes.constants`).
"""

from typing import Any

from numpy.typing import NDArray

__all__ = ["Array", "Law"]

Array = NDArray[Any]
Law = tuple[float, ...]
