"""The documents of a job's artwork and tools: what is drawn, where, how, with which tool and how deep."""

from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator
from pydantic_core import PydanticCustomError

from engine.artwork import Tone
from engine.job.arranging import BorderDocument, RepeatDocument
from engine.job.lettering import TextDocument
from engine.job.marking import HatchDocument, MarkingDocument
from engine.job.picture import DrawingDocument, PictureDocument
from engine.job.reading import Angle, Document, Length, Name, Position, Words
from engine.kernel.values import Form, Tool
from engine.layout import Eye, Fit, Placement, Projection

__all__ = ["ArtworkDocument", "PlacementDocument", "ToneDocument", "ToolDocument"]


class EyeDocument(Document):
    """A person's eye: at a station, an angle, and a distance from the axis; null is far away, square to the axis."""

    x_mm: Position
    angle_deg: Angle
    distance_mm: Length | None = None


class PlacementDocument(Document):
    """Where the art's centre goes, its size, mirror and turn. fit : of the projection `fitted` alone; eye : of
    `from-view` alone, null looks square to the skin at the art's centre.
    """

    x_mm: Position
    angle_deg: Angle = 0.0
    width_mm: Length | None = None
    height_mm: Length | None = None
    mirror: bool = False
    turn_deg: Angle = 0.0
    projection: Literal["equidistant", "conformal", "equal-area", "true-width", "from-view", "developed", "fitted"] = (
        "equidistant"
    )
    fit: Literal["conformal", "rigid"] = "conformal"
    eye: EyeDocument | None = None

    @field_validator("fit", "eye")
    @classmethod
    def _of_its_projection(cls, given: object, info: ValidationInfo) -> object:
        owner = {"fit": "fitted", "eye": "from-view"}[str(info.field_name)]
        if given not in ("conformal", None) and info.data.get("projection") != owner:
            raise ValueError(f"{info.field_name} must be left out: it belongs to the projection {owner}")
        return given

    def value(self) -> Placement:
        """The placement as the layout takes it."""
        return Placement(
            x_mm=self.x_mm,
            angle_deg=self.angle_deg,
            width_mm=self.width_mm,
            height_mm=self.height_mm,
            mirror=self.mirror,
            turn_deg=self.turn_deg,
            projection=Projection(self.projection),
            fit=Fit(self.fit),
            eye=None if self.eye is None else Eye(**self.eye.model_dump()),
        )


class ToneDocument(Document):
    """How a raster picture becomes dark and light."""

    threshold: Literal["auto"] | Annotated[int, Field(ge=0, le=255)] = "auto"
    invert: bool = False
    contrast: Annotated[float, Field(ge=-1, le=1)] = 0.0
    gamma: Annotated[float, Field(ge=0.1, le=10)] = 1.0

    def value(self) -> Tone:
        """The tone as the reader takes it."""
        return Tone(
            threshold=None if isinstance(self.threshold, str) else self.threshold,
            invert=self.invert,
            contrast=self.contrast,
            gamma=self.gamma,
        )


class ToolDocument(Document):
    """A tool of the job's own or of the shop's library.

    stick_out_mm : from the tip to the collet's face; null is not known. shank_mm : null is the tool's diameter.
    flute_mm : length of the cutting part; null is the cone's own height, of a ball or flat end three diameters (common
    practice, no source).
    """

    id: Name
    form: Literal["cone", "ball", "flat"] = "cone"
    diameter_mm: Annotated[float, Field(gt=0, le=50)] = 3.175
    tip_mm: Annotated[float, Field(ge=0, le=50)] = 0.1
    angle_deg: Annotated[float, Field(gt=1, lt=179)] = 60.0
    flutes: Annotated[int, Field(ge=1, le=12)] = 1
    rpm_max: Annotated[float, Field(ge=1, le=200_000)] | None = None
    runout_mm: Annotated[float, Field(ge=0, le=5)] = 0.0
    stick_out_mm: Annotated[float, Field(gt=0, le=500)] | None = None
    shank_mm: Annotated[float, Field(gt=0, le=50)] | None = None
    flute_mm: Annotated[float, Field(gt=0, le=200)] | None = None
    tilt_max_deg: Annotated[float, Field(gt=0, lt=90)] | None = None
    name: Words = ""

    @model_validator(mode="after")
    def _tip_inside(self) -> "ToolDocument":
        if self.form == "cone" and not self.tip_mm < self.diameter_mm:
            raise ValueError("tip_mm must be less than diameter_mm")
        return self

    @field_validator("flute_mm")
    @classmethod
    def _within_stick_out(cls, flute_mm: float | None, info: ValidationInfo) -> float | None:
        stick_out = info.data.get("stick_out_mm")
        if flute_mm is not None and stick_out is not None and flute_mm > stick_out:
            raise ValueError("flute_mm must not be above stick_out_mm")
        return flute_mm

    def value(self) -> Tool:
        """The tool as the stages take it."""
        return Tool(
            id=self.id,
            form=Form(self.form),
            diameter_mm=self.diameter_mm,
            tip_mm=self.tip_mm,
            angle_deg=self.angle_deg,
            flutes=self.flutes,
            rpm_max=self.rpm_max,
            runout_mm=self.runout_mm,
            stick_out_mm=self.stick_out_mm,
            shank_mm=self.shank_mm,
            flute_mm=self.flute_mm,
            tilt_max_deg=self.tilt_max_deg,
        )


NOWHERE = PlacementDocument(x_mm=0.0)  # of a frame, which lies where the piece lies that it goes round


class ArtworkDocument(Document):
    """One piece of art on the blank: a picture or drawing that was uploaded, lettering, or a border.

    feed_mm_min 240 and rpm 12000 are a careful start for a small cone in dry wood or shell (common practice, no
    source). plunge_mm_min null is a third of the feed. picture : edits of a photograph, null is none. drawing : how a
    DXF file is taken, null is by its own unit, with all its layers, nothing filled but hatches.
    """

    text: TextDocument | None = None
    border: BorderDocument | None = None
    asset: Words | None = Field(default=None, validate_default=True)
    name: Words = ""
    placement: PlacementDocument = Field(default=NOWHERE, validate_default=True)
    repeat: RepeatDocument | None = None
    tone: ToneDocument = ToneDocument()
    picture: PictureDocument | None = None
    drawing: DrawingDocument | None = None
    marking: MarkingDocument = HatchDocument(style="hatch")
    tool: Name | None = None
    depth_mm: Annotated[float, Field(gt=0, le=50)]
    passes: Annotated[int, Field(ge=1, le=20)] = 1
    step_mm: Annotated[float, Field(ge=0.005, le=50)] | None = None
    feed_mm_min: Annotated[float, Field(ge=1, le=20_000)] = 240.0
    plunge_mm_min: Annotated[float, Field(ge=1, le=20_000)] | None = None
    rpm: Annotated[float, Field(ge=1, le=200_000)] = 12_000.0
    direction: Literal["uphill", "any"] = "uphill"
    level_mm: Annotated[float, Field(ge=0, le=1)] = 0.02

    @field_validator("asset")
    @classmethod
    def _one_source(cls, asset: str | None, info: ValidationInfo) -> str | None:
        if not {"text", "border"} <= set(info.data):
            return asset  # what is wrong with those is told already
        given = sum(source is not None for source in (asset, info.data["text"], info.data["border"]))
        if given != 1:
            raise ValueError(
                "an asset or a text or a border, one of them" if given else "this field is needed, or text, or border"
            )
        return asset

    @field_validator("placement")
    @classmethod
    def _placed(cls, placement: PlacementDocument, info: ValidationInfo) -> PlacementDocument:
        border: BorderDocument | None = info.data.get("border")
        framing = border is not None and border.around is not None
        if framing and placement is not NOWHERE:
            raise ValueError("none: a frame lies where the piece lies that it goes round")
        if placement is NOWHERE and not framing and "border" in info.data:
            raise PydanticCustomError("missing", "Field required")
        return placement
