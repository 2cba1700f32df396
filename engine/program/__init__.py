"""The program: the words that the machine is told."""

from engine.program.comments import comment
from engine.program.feeds import tip_length_mm
from engine.program.program import Program, check_code, with_header
from engine.program.rs274 import write
from engine.program.variants import air, resume

__all__ = [
    "Program",
    "air",
    "check_code",
    "comment",
    "resume",
    "tip_length_mm",
    "with_header",
    "write",
]
