"""The documents of the marking styles: each with a `value` that gives the style for a tool and a depth."""

from typing import Annotated, Literal

from pydantic import Field

from engine.job.reading import Angle, Document
from engine.kernel.values import Tool
from engine.marking import Hatch, Outline, Style

__all__ = ["HatchDocument", "MarkingDocument"]

PITCH_OF_WIDTH = 0.9  # rows lap by a tenth of the tool's width


class OutlineDocument(Document):
    """The outline of every region and every line, on the line."""

    style: Literal["outline"]

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        return Outline()


class HatchDocument(Document):
    """Parallel lines; pitch_mm null is nine tenths of the tool's width at depth."""

    style: Literal["hatch"]
    pitch_mm: Annotated[float, Field(ge=0.01, le=100)] | None = None
    angle_deg: Angle = 0.0
    outline: bool = False
    inset_mm: Annotated[float, Field(ge=0, le=100)] = 0.0

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        pitch_mm = self.pitch_mm or max(round(PITCH_OF_WIDTH * tool.width_mm(depth_mm), 4), 0.01)
        return Hatch(pitch_mm=pitch_mm, angle_deg=self.angle_deg, outline=self.outline, inset_mm=self.inset_mm)


MarkingDocument = Annotated[OutlineDocument | HatchDocument, Field(discriminator="style")]
