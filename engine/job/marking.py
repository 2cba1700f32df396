"""The documents of the marking styles: each with a `value` that gives the style for a tool and a depth."""

from typing import Annotated, Literal

from pydantic import Field

from engine.job.reading import Angle, Document, Name
from engine.kernel.errors import MarkingError
from engine.kernel.values import Form, Tool
from engine.marking import Centreline, Clearing, Halftone, Hatch, Lines, Outline, Relief, Rings, Stipple, Style, VDepth

__all__ = ["CentrelineDocument", "HatchDocument", "MarkingDocument", "VDepthDocument"]

PITCH_OF_WIDTH = 0.9  # rows lap by a tenth of the tool's width
RIDGE_SHARE = 0.05  # of the depth: how high the ridges between clearing rows may stand (common practice, no source)
HEIGHTS = 64  # of a clearing tool's form that are held against the wall


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


class HalftoneDocument(Document):
    """Rows as wide as the art is dark; pitch_mm null is the tool's width at depth, so that black can be reached."""

    style: Literal["halftone"]
    pitch_mm: Annotated[float, Field(ge=0.02, le=100)] | None = None
    lines: Literal["straight", "rings", "helix", "meridians"] = "straight"
    angle_deg: Angle = 0.0
    least_depth_mm: Annotated[float, Field(gt=0, le=50)] = 0.01

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        widest = max(tool.width_mm(depth_mm), tool.width_mm(self.least_depth_mm))
        return Halftone(
            tool=tool,
            depth_mm=depth_mm,
            pitch_mm=self.pitch_mm or round(widest, 4),
            lines=self.lines,
            angle_deg=self.angle_deg,
            least_depth_mm=self.least_depth_mm,
        )


class StippleDocument(Document):
    """Dots whose number carries the tone; dot_mm null is the tool's width at depth. The seed places them."""

    style: Literal["stipple"]
    dot_mm: Annotated[float, Field(ge=0.02, le=20)] | None = None
    seed: Annotated[int, Field(ge=0, le=2**31)] = 1

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        return Stipple(
            tool=tool, depth_mm=depth_mm, dot_mm=self.dot_mm or round(tool.width_mm(depth_mm), 6), seed=self.seed
        )


class ReliefDocument(Document):
    """Darkness as depth: fine rows whose ridges are scallop_mm high at most, and rough rows before them, a step down
    at a time; rough_step_mm null is half the clearing tool's radius, and no rough rows where there is none.
    """

    style: Literal["relief"]
    scallop_mm: Annotated[float, Field(gt=0, le=10)] = 0.005
    angle_deg: Angle = 0.0
    rough_step_mm: Annotated[float, Field(ge=0.01, le=20)] | None = None
    stock_mm: Annotated[float, Field(ge=0, le=10)] = 0.1
    clearing_tool: Name | None = None

    def value(self, tool: Tool, depth_mm: float, clearing: Tool | None = None) -> Style:
        """The style as the marking takes it."""
        step = self.rough_step_mm or (None if clearing is None else round(0.5 * clearing.outer_mm, 4))
        return Relief(
            tool=tool,
            depth_mm=depth_mm,
            scallop_mm=self.scallop_mm,
            angle_deg=self.angle_deg,
            rough_step_mm=step,
            stock_mm=self.stock_mm,
            clearing=clearing,
        )


class RingsDocument(Document):
    """Rings in each other; pitch_mm null is nine tenths of the tool's width at depth, inset_mm null half that width."""

    style: Literal["rings"]
    pitch_mm: Annotated[float, Field(ge=0.01, le=100)] | None = None
    inset_mm: Annotated[float, Field(ge=0, le=100)] | None = None
    joined: bool = True

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        half = round(0.5 * tool.width_mm(depth_mm), 6)
        return Rings(
            pitch_mm=self.pitch_mm or _lapping(tool, depth_mm),
            inset_mm=half if self.inset_mm is None else self.inset_mm,
            joined=self.joined,
        )


def _lapping(tool: Tool, depth_mm: float) -> float:
    """The pitch at which rows lap."""
    return max(round(PITCH_OF_WIDTH * tool.width_mm(depth_mm), 4), 0.01)


class CentrelineDocument(Document):
    """The middle of thin shapes as single strokes."""

    style: Literal["centreline"]

    def value(self, tool: Tool, depth_mm: float) -> Style:
        """The style as the marking takes it."""
        return Centreline()


class VDepthDocument(Document):
    """As deep as the shape is wide, for a cone; what is wider than it reaches is cleared flat.

    outline_mm : how much of the outline may be missed where a branch of the middle is left out. clear_pitch_mm : of the
    rows that clear; null: what suits the tool that clears. clearing_tool : that tool; null: the cone does it itself.
    """

    style: Literal["v-depth"]
    outline_mm: Annotated[float, Field(ge=0.001, le=1)] = 0.005
    clear_pitch_mm: Annotated[float, Field(ge=0.01, le=100)] | None = None
    clearing_tool: Name | None = None

    def value(self, tool: Tool, depth_mm: float, clearing: Tool | None = None) -> Style:
        """The style as the marking takes it. MarkingError at `tool` where that is no cone."""
        if tool.form is not Form.CONE:
            raise MarkingError("v-depth needs a cone", where="tool", hint="choose a cone, or another style")
        sunk = min(depth_mm, 0.5 * (tool.diameter_mm - tool.tip_mm) * tool.flank)  # no deeper than its flank is high
        return VDepth(
            depth_mm=depth_mm,
            angle_deg=tool.angle_deg,
            tip_mm=tool.tip_mm,
            widest_mm=tool.diameter_mm,
            outline_mm=self.outline_mm,
            pitch_mm=self._pitch_mm(tool, sunk),
            clearing=None if clearing is None else self._clearing(clearing, tool, sunk),
        )

    def _clearing(self, clearing: Tool, cone: Tool, sunk_mm: float) -> Clearing:
        """How near the wall that the cone leaves the second tool may come, at any height of its form."""
        heights = [sunk_mm * k / HEIGHTS for k in range(HEIGHTS + 1)]
        keep = max(0.5 * clearing.width_mm(h) + (sunk_mm - h) / cone.flank for h in heights)
        return Clearing(pitch_mm=self._pitch_mm(clearing, sunk_mm), keep_mm=keep, flat_mm=clearing.flat_mm)

    def _pitch_mm(self, tool: Tool, sunk_mm: float) -> float:
        """Rows at a distance at which no more than a share of the depth is left standing between them."""
        return self.clear_pitch_mm or max(round(PITCH_OF_WIDTH * tool.width_mm(RIDGE_SHARE * sunk_mm), 4), 0.01)


MarkingDocument = Annotated[
    OutlineDocument
    | HatchDocument
    | CentrelineDocument
    | VDepthDocument
    | HalftoneDocument
    | StippleDocument
    | ReliefDocument
    | RingsDocument,
    Field(discriminator="style"),
]
