"""Run as a program of its own: what a general-purpose parser makes of the programs on standard input, as JSON.

The parser (pygcode, GPL-3.0) is used here alone, in a process of its own, and nowhere in the package. It is asked for
what it knows: the places that absolute moves in mm and degrees go to, line by line.
"""

import json
import sys

from pygcode import Line
from pygcode.machine import Machine

Rotary = type("Rotary", (Machine,), {"axes": set("XYZA")})  # its machine, with a rotary axis


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
