"""Every error that the engine raises, drawn as a tree. An error means "no result"; what is worth telling beside a
result is a `Finding`.

EngineError(message, where=, hint=)
  JobError          the job document is wrong; `problems` holds every one, each with its JSON pointer
  ArtworkError      no drawing can be made of the artwork
    TooBigError     a limit of size was passed
    NotArtworkError the bytes are not what they claim to be
    EmptyError      of the artwork nothing is left to cut
    QuestionError   only the person knows (a unit, a size)
  BlankError        no skin can be made of the blank's description
    GapsError       readings are missing, doubled or at the axis, through which a smooth surface could still be laid
  LayoutError       the art cannot be laid where it was asked
  MarkingError      no strokes can be made as asked
  ReachError        the tool cannot go where the strokes ask
  ProgramError      no program can be written, or a text is no program
"""

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "ArtworkError",
    "BlankError",
    "EmptyError",
    "EngineError",
    "GapsError",
    "JobError",
    "LayoutError",
    "MarkingError",
    "NotArtworkError",
    "Problem",
    "ProgramError",
    "QuestionError",
    "ReachError",
    "TooBigError",
]


class EngineError(Exception):
    """No result. `where` names the field, element, line or row; `hint` says what the person can do."""

    def __init__(self, message: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        return f"{place}{self.message}{f' ({self.hint})' if self.hint else ''}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing wrong in a document: JSON pointer (RFC 6901), what was given, what is allowed."""

    pointer: str
    given: str | int | float | bool | None
    allowed: str


class JobError(EngineError):
    """The job document is wrong; `problems` lists every fault found, not only the first."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        first = problems[0]
        more = f" and {len(problems) - 1} more" if len(problems) > 1 else ""
        super().__init__(f"{first.allowed}{more}", where=first.pointer)
        self.problems = tuple(problems)


class ArtworkError(EngineError):
    """No drawing can be made of the artwork."""


class TooBigError(ArtworkError):
    """A limit of size was passed. Where nothing better can be said, the hint is that of every limit."""

    def __init__(self, message: str, *, where: str = "", hint: str = "make it simpler, or part it in several") -> None:
        super().__init__(message, where=where, hint=hint)


class NotArtworkError(ArtworkError):
    """The bytes are not what they claim to be."""


class EmptyError(ArtworkError):
    """Of the artwork nothing is left to cut."""


class QuestionError(ArtworkError):
    """Only the person knows: a unit, a size."""


class BlankError(EngineError):
    """No skin can be made of the blank's description."""


class GapsError(BlankError):
    """Readings are missing, doubled or at the axis, through which a smooth surface could still be laid."""


class LayoutError(EngineError):
    """The art cannot be laid where it was asked."""


class MarkingError(EngineError):
    """No strokes can be made as asked."""


class ReachError(EngineError):
    """The tool cannot go where the strokes ask."""


class ProgramError(EngineError):
    """No program can be written, or a text is no program."""
