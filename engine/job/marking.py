"""The documents of the marking styles: each with a `value` that gives the style for a tool and a depth."""

from typing import Annotated, Literal

from pydantic import Field

from engine.job.reading import Angle, Document
from engine.kernel.values import Tool
from engine.marking import Hatch, Lines, Outline, Style

__all__ = ["HatchDocument", "MarkingDocument"]

PITCH_OF_WIDTH = 0.9  # rows lap by a tenth of the tool's width


class OutlineDocument(Document):
    """The outline of every region and every line: on the line, or beside it by half the tool's width at depth."""

    style: Literal["outline"]
    side: Literal["on", "inside", "outside"] = "on"

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        half = round(0.5 * tool.width_mm(depth_mm), 6)
        return Outline(shift_mm={"on": 0.0, "inside": -half, "outside": half}[self.side])


class HatchDocument(Document):
    """Parallel lines; pitch_mm null is nine tenths of the tool's width at depth. keep_inside : lines and outline stay
    in by half that width more, so that nothing is cut outside the art.
    """

    style: Literal["hatch"]
    pitch_mm: Annotated[float, Field(ge=0.01, le=100)] | None = None
    angle_deg: Angle = 0.0
    outline: bool = False
    inset_mm: Annotated[float, Field(ge=0, le=100)] = 0.0
    lines: Literal["straight", "rings", "helix"] = "straight"
    crossed: bool = False
    keep_inside: bool = False

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        edge_mm = round(0.5 * tool.width_mm(depth_mm), 6) if self.keep_inside else 0.0
        return Hatch(
            pitch_mm=self.pitch_mm or _lapping(tool, depth_mm),
            angle_deg=self.angle_deg,
            outline=self.outline,
            inset_mm=self.inset_mm + edge_mm,
            lines=Lines(self.lines),
            crossed=self.crossed,
            edge_mm=edge_mm,
        )


def _lapping(tool: Tool, depth_mm: float) -> float:
    """The pitch at which rows lap."""
    return max(round(PITCH_OF_WIDTH * tool.width_mm(depth_mm), 4), 0.01)


MarkingDocument = Annotated[OutlineDocument | HatchDocument, Field(discriminator="style")]
