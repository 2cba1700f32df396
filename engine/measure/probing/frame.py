"""From the words of a machine's axes to places on the blank.

Takes columns of logged positions in the order X Y Z A B C and what is known of the machine; gives where the ball's
centre stood. Refuses (BlankError) logs without a column for each of the machine's axes, and balls at the axis.
"""

from typing import Protocol

import numpy as np

from engine.kernel.arrays import Floats
from engine.kernel.errors import BlankError

__all__ = ["LETTERS", "AxisWords", "MachineWords", "columns_of"]

LETTERS = "XYZABC"


class AxisWords(Protocol):
    """One axis: its letter, and whether its words count the other way than the blank's own sense."""

    @property
    def letter(self) -> str:
        """One of X Y Z A B C."""
        ...

    @property
    def reversed(self) -> bool:
        """Whether its words fall where the blank's own sense rises."""
        ...


class MachineWords(Protocol):
    """What of a machine decides what its words mean. mm_per_turn : None where the rotary word is in degrees."""

    @property
    def axial(self) -> AxisWords:
        """Along the blank."""
        ...

    @property
    def rotary(self) -> AxisWords:
        """Round it."""
        ...

    @property
    def radial(self) -> AxisWords:
        """Away from its axis."""
        ...

    @property
    def mm_per_turn(self) -> float | None:
        """The rotary word of a whole turn, mm; None: it is in degrees."""
        ...


def columns_of(values: Floats, machine: MachineWords, unit_mm: float, origin: Floats) -> tuple[Floats, Floats, Floats]:
    """Axial mm, rotary degrees and radial mm, (k,) each, in the blank's own sense.

    values : (k, c) columns X Y Z A B C, c of them, in the log's unit. unit_mm : mm in a unit of the linear words.
    origin : (3,) what the axial, rotary and radial words read where the program's zero is: mm, degrees or mm, mm.
    """
    found = []
    for axis, zero in zip((machine.axial, machine.rotary, machine.radial), origin.tolist(), strict=True):
        at = LETTERS.index(axis.letter)
        if at >= values.shape[1]:
            raise BlankError(
                f"the log's positions have {values.shape[1]} columns, so none for axis {axis.letter}",
                where="/log",
                hint=f"let the controller log {' '.join(LETTERS[: at + 1])} at least, in this order",
            )
        linear = axis is not machine.rotary or machine.mm_per_turn is not None
        column = values[:, at] * (unit_mm if linear else 1.0) - zero
        found.append(-column if axis.reversed else column)
    axial, rotary, radial = found
    if machine.mm_per_turn is not None:
        rotary = rotary * (360.0 / machine.mm_per_turn)
    return np.asarray(axial), np.asarray(rotary), np.asarray(radial)
