"""Roundwright's planning engine: pure stages from a job document to a proven machine program.

The server uses these names and nothing deeper.
"""

from engine.artwork import Description
from engine.artwork import Limits as ArtworkLimits
from engine.artwork.lettering import FACES, STROKE_FACES
from engine.files import describe
from engine.job import DEFAULT_MACHINE, Job, Known, MachineDocument, ToolDocument, pointer, read, read_job
from engine.kernel.errors import (
    ArtworkError,
    BlankError,
    EngineError,
    JobError,
    LayoutError,
    NotArtworkError,
    Problem,
    ProgramError,
    TooBigError,
)
from engine.kernel.findings import Finding, Severity, Where
from engine.measuring import WAYS, Answer, card_svg, check_measure, measure
from engine.outcome.report import cautions
from engine.pictures import CardDocument, card_png, picture_shown, read_card
from engine.plan import Plan, Tell, plan, prove_text, silent
from engine.printing import PAPERS, paper_pattern
from engine.program import Program

__all__ = [
    "DEFAULT_MACHINE",
    "FACES",
    "PAPERS",
    "STROKE_FACES",
    "WAYS",
    "Answer",
    "ArtworkError",
    "ArtworkLimits",
    "BlankError",
    "CardDocument",
    "Description",
    "EngineError",
    "Finding",
    "Job",
    "JobError",
    "Known",
    "LayoutError",
    "MachineDocument",
    "NotArtworkError",
    "Plan",
    "Problem",
    "Program",
    "ProgramError",
    "Severity",
    "Tell",
    "TooBigError",
    "ToolDocument",
    "Where",
    "card_png",
    "card_svg",
    "cautions",
    "check_measure",
    "describe",
    "measure",
    "paper_pattern",
    "picture_shown",
    "plan",
    "pointer",
    "prove_text",
    "read",
    "read_card",
    "read_job",
    "silent",
]
