"""Run as a program of its own: what a general-purpose parser makes of the programs on standard input, as JSON.

The parser (pygcode, GPL-3.0) is used here alone, in a process of its own, and nowhere in the package. It is asked for
the places that moves go to, line by line. Its machine adds up words without their unit, so the linear ones are turned
into mm by its own table first.
"""

import json
import sys

from pygcode import Line
from pygcode.machine import UNIT_MAP, UNIT_METRIC, Machine


class Rotary(Machine):
    """Its machine with a rotary axis, in mm and degrees whatever the program's unit."""

    axes = frozenset("XYZA")

    def move_to(self, rapid=False, **coords):
        """Moves as its own machine does, by words in mm and degrees."""
        mm = UNIT_MAP[self.mode.units.unit_id]["conversion_factor"].get(UNIT_METRIC, 1.0)
        super().move_to(rapid=rapid, **{axis: value * (1.0 if axis == "A" else mm) for axis, value in coords.items()})


def places(text):
    """[x, a, z] after each line that moves."""
    machine, out = Rotary(), []
    for raw in text.splitlines():
        block = Line(raw).block
        machine.process_block(block)
        if {word.letter for word in block.words} & set("XAZ"):
            out.append([machine.pos.values[axis] for axis in "XAZ"])
    return out


if __name__ == "__main__":
    json.dump([places(text) for text in json.load(sys.stdin)], sys.stdout)
