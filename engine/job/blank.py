"""The document of a blank: what is measured, and the skin that follows from it.

One table, `BlankDocument`, ties each saved shape name to its class; each class knows how to make its skin.
"""

from collections.abc import Mapping
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, ValidationInfo, field_validator

from engine.blank import Cone, Cylinder, Ovoid, Skin, Stations, read_grid
from engine.job.reading import Document, Length, Position, Words

__all__ = ["BlankDocument", "BlankShape", "KeepOutDocument", "StationDocument"]


UNSTATED_MM = 0.05
Deviation = Annotated[float, Field(ge=0, le=100)]


class KeepOutDocument(Document):
    """A stretch of the axis where hardware stands: chuck, tailstock, steady.

    radius_mm : how far from the axis it reaches; null is not known: taken to reach as far as the blank does anywhere.
    """

    from_mm: Position
    to_mm: Position
    why: Words = ""
    radius_mm: Length | None = None

    @field_validator("to_mm")
    @classmethod
    def _after_from(cls, to_mm: float, info: ValidationInfo) -> float:
        start = info.data.get("from_mm")
        if start is not None and not start < to_mm:
            raise ValueError("to_mm must lie above from_mm")
        return to_mm


class BlankShape(Document):
    """What every shape may say beside its own measures. wall_min_mm : how much of the wall is to be left."""

    material: Words = ""
    wall_mm: Length | None = None
    wall_min_mm: Annotated[float, Field(ge=0, le=1000)] = 0.0
    keep_out: tuple[KeepOutDocument, ...] = Field(default=(), max_length=32)

    @field_validator("wall_min_mm")
    @classmethod
    def _within_the_wall(cls, wall_min_mm: float, info: ValidationInfo) -> float:
        wall = info.data.get("wall_mm")
        if wall_min_mm > 0 and "wall_mm" in info.data and (wall is None or not wall_min_mm < wall):
            raise ValueError("wall_min_mm must be less than wall_mm" if wall else "wall_min_mm needs wall_mm")
        return wall_min_mm


class DescribedShape(BlankShape):
    """A shape given by a few readings.

    radius_error_mm : one standard deviation of the true skin from this description; 0.05 is what careful calliper
    readings reach (common practice, no source).
    """

    radius_error_mm: Deviation = UNSTATED_MM


class CylinderDocument(DescribedShape):
    """A round bar."""

    shape: Literal["cylinder"]
    diameter_mm: Length
    length_mm: Length

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The skin of a round bar."""
        return Cylinder(diameter_mm=self.diameter_mm, length_mm=self.length_mm, sigma_mm=self.radius_error_mm)


class ConeDocument(DescribedShape):
    """A straight taper: diameter_mm at x = 0."""

    shape: Literal["cone"]
    diameter_mm: Length
    end_diameter_mm: Length
    length_mm: Length

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The skin of a straight taper."""
        return Cone(
            diameter_mm=self.diameter_mm,
            end_diameter_mm=self.end_diameter_mm,
            length_mm=self.length_mm,
            sigma_mm=self.radius_error_mm,
        )


class OvoidDocument(DescribedShape):
    """An egg by the published four-reading curve."""

    shape: Literal["ovoid"]
    length_mm: Length
    breadth_mm: Length
    shift_mm: Position
    quarter_diameter_mm: Length

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The skin of the four-reading curve."""
        return Ovoid(
            length_mm=self.length_mm,
            breadth_mm=self.breadth_mm,
            shift_mm=self.shift_mm,
            quarter_diameter_mm=self.quarter_diameter_mm,
            sigma_mm=self.radius_error_mm,
        )


class StationDocument(Document):
    """One calliper reading."""

    x_mm: Position
    diameter_mm: Length


class StationsDocument(DescribedShape):
    """Calliper readings along the axis."""

    shape: Literal["stations"]
    stations: tuple[StationDocument, ...] = Field(min_length=2, max_length=2000)

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The shape-preserving curve through the readings."""
        return Stations(
            x_mm=np.array([s.x_mm for s in self.stations]),
            diameter_mm=np.array([s.diameter_mm for s in self.stations]),
            sigma_mm=self.radius_error_mm,
        )


class GridDocument(BlankShape):
    """A measured skin: the id of a CSV with columns x_mm, angle_deg, radius_mm, and sigma_mm where that is known.

    radius_error_mm : null is as the table says place by place, 0.05 where it says nothing; a number counts everywhere.
    """

    shape: Literal["grid"]
    asset: Words
    radius_error_mm: Deviation | None = None

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The smooth periodic surface through the readings."""
        return read_grid(assets[self.asset], sigma_mm=self.radius_error_mm, unstated_mm=UNSTATED_MM)


BlankDocument = Annotated[
    CylinderDocument | ConeDocument | OvoidDocument | StationsDocument | GridDocument, Field(discriminator="shape")
]
