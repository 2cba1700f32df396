"""The program: the words that the machine is told."""

from engine.program.change import Change
from engine.program.comments import comment
from engine.program.feeds import tip_length_mm
from engine.program.guess import Guess
from engine.program.probe_points import Order
from engine.program.probing import Probe, ProbeProgram, probe_program
from engine.program.program import Program, check_code, with_header
from engine.program.rs274 import write
from engine.program.turning import TurnProgram, turn_program
from engine.program.variants import air, resume

__all__ = [
    "Change",
    "Guess",
    "Order",
    "Probe",
    "ProbeProgram",
    "Program",
    "TurnProgram",
    "air",
    "check_code",
    "comment",
    "probe_program",
    "resume",
    "tip_length_mm",
    "turn_program",
    "with_header",
    "write",
]
