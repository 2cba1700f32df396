"""What each way of measuring takes: the documents of the measuring routes, validated as a job is."""

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from engine.job import Asking, BlankDocument, MachineChoice, MachineDocument, Needed
from engine.job.photographs import AxisDocument, EdgeDocument
from engine.job.reading import Angle, Document, Length, Position, Rate, Words

__all__ = [
    "CallipersDocument",
    "CorrectDocument",
    "EndForEndDocument",
    "GridTableDocument",
    "LensDocument",
    "OutlineDocument",
    "OvoidFitDocument",
    "ProbeLogDocument",
    "ProbeProgramDocument",
    "RechuckDocument",
    "TurnProgramDocument",
]

Stations = Annotated[tuple[Position, ...], Field(min_length=1, max_length=2000)]
Angles = Annotated[tuple[Angle, ...], Field(min_length=1, max_length=720)] | Annotated[int, Field(ge=1, le=720)]
Deviation = Annotated[float, Field(ge=0, le=10)]


def _files_of(blank: BlankDocument, name: str) -> Iterator[Needed]:
    for file in blank.needed():
        yield file._replace(place=f"/{name}{file.place}")


class StationReading(Document):
    """A calliper reading: the diameter at 0 degrees, and the one at 90 where the section is oval."""

    x_mm: Position
    diameter_mm: Length
    across_mm: Length | None = None


class CallipersDocument(Asking):
    """Stations by callipers; reading_error_mm is one standard deviation of a diameter."""

    stations: tuple[StationReading, ...] = Field(min_length=2, max_length=2000)
    reading_error_mm: Deviation = 0.05


class OvoidFitDocument(CallipersDocument):
    """An egg by calliper stations: length_mm where it was measured, null where it is to be found."""

    length_mm: Length | None = None


class ColumnsDocument(Document):
    """What the columns of a table are called; null or the usual names (x_mm, angle_deg or angle_rad, radius_mm or
    diameter_mm, sigma_mm) are looked for as they are.
    """

    x: Words | None = None
    angle: Words | None = None
    radius: Words | None = None
    diameter: Words | None = None
    sigma: Words | None = None

    def named(self, *, in_radians: bool) -> dict[str, str]:
        """The table's own headings, by the usual names that they stand for."""
        usual = {
            "x": "x_mm",
            "angle": "angle_rad" if in_radians else "angle_deg",
            "radius": "radius_mm",
            "diameter": "diameter_mm",
            "sigma": "sigma_mm",
        }
        own = {name: getattr(self, field) for field, name in usual.items()}
        return {
            name: heading for name, heading in own.items() if heading and heading not in (*usual.values(), "angle_deg")
        }


class GridTableDocument(Asking):
    """A table of readings, cells missing or not. angle_unit : of its angles, always stated."""

    asset: Words
    angle_unit: Literal["degrees", "radians"]
    columns: ColumnsDocument = ColumnsDocument()

    def needed(self) -> Iterator[Needed]:
        """The table."""
        yield Needed("/asset", self.asset, ("table", "readings"), "a table of readings")


class OutlineDocument(Asking):
    """One photograph whose edge is to be found."""

    photo: EdgeDocument
    axis: AxisDocument | None = None

    def needed(self) -> Iterator[Needed]:
        """The photograph."""
        yield Needed("/photo/asset", self.photo.asset, ("raster",), "a photograph")


class LensDocument(Asking):
    """Photographs of the printed card, one lens and one focus."""

    photos: tuple[Words, ...] = Field(min_length=1, max_length=40)

    def needed(self) -> Iterator[Needed]:
        """The photographs."""
        for k, asset in enumerate(self.photos):
            yield Needed(f"/photos/{k}", asset, ("raster",), "a photograph of the card")


class TurnProgramDocument(Asking):
    """Turn from angle to angle and wait: until told to go on, or so many seconds.

    The tool waits over the blank, park_r_mm from the axis; null: the machine's clearance and PARK_MM over the blank.
    """

    angles_deg: tuple[Angle, ...] = Field(min_length=1, max_length=72)
    machine: MachineChoice = MachineDocument()
    wait: Literal["pause"] | Annotated[float, Field(gt=0, le=600)] = "pause"
    blank: BlankDocument
    park_r_mm: Length | None = None

    def needed(self) -> Iterator[Needed]:
        """What the blank is made of."""
        yield from _files_of(self.blank, "blank")


class ProbeProgramDocument(Asking):
    """A program that touches a blank at every station under every angle: each, or how many even ones from 0.

    search_mm : how far below and above what is expected the skin is looked for. fragile : thin or brittle.
    """

    blank: BlankDocument
    machine: MachineChoice = MachineDocument()
    tip_radius_mm: Length
    stations: Stations
    angles: Angles
    feed_mm_min: Rate = 60.0
    search_mm: Length = 6.0
    fragile: bool = False

    def needed(self) -> Iterator[Needed]:
        """What the blank is made of."""
        yield from _files_of(self.blank, "blank")


class LogDocument(Asking):
    """A log of touches, the machine that made it, and the ball.

    zero_r_mm : the skin's radius where the radial word is 0, for a machine that is zeroed on the skin; null: as the
    blank says.
    """

    log: Words
    machine: MachineChoice = MachineDocument()
    tip_radius_mm: Length
    unit: Literal["mm", "inch"] = "mm"
    zero_r_mm: Length | None = None

    def needed(self) -> Iterator[Needed]:
        """The log, and what the blank is made of."""
        yield Needed("/log", self.log, ("readings", "table"), "the log of a controller")
        blank: BlankDocument | None = getattr(self, "blank", None)
        if blank is not None:
            yield from _files_of(blank, "blank")


class ProbeLogDocument(LogDocument):
    """A log to make a skin of.

    With blank, stations and angles, as the program was written with, its touches are matched with the program's points.
    """

    blank: BlankDocument | None = None
    stations: Stations | None = None
    angles: Angles | None = None
    search_mm: Length = 6.0


class HeldDocument(LogDocument):
    """Touches of a blank whose skin is described."""

    blank: BlankDocument


class RechuckDocument(HeldDocument):
    """Touches of a blank that was put back; `blank` is its skin as it was measured before, `job` moves with it.

    turn_near_deg : how far it was turned, as a mark on it shows, where the skin is too round to tell.
    """

    job: dict[str, object] | None = None
    turn_near_deg: Angle | None = None


class CorrectDocument(HeldDocument):
    """Touches that tell how a blank of a few readings is held, or how much larger it is."""


class Place(Document):
    """A mark on the blank."""

    x_mm: Position
    angle_deg: Angle


class Mark(Document):
    """One mark as each of two measurements has it."""

    first: Place
    second: Place


class EndForEndDocument(Asking):
    """A blank measured twice, turned end for end in between, and two marks that both measurements have."""

    first: BlankDocument
    second: BlankDocument
    marks: tuple[Mark, ...] = Field(min_length=2, max_length=2)

    def needed(self) -> Iterator[Needed]:
        """What the two are made of."""
        yield from _files_of(self.first, "first")
        yield from _files_of(self.second, "second")
