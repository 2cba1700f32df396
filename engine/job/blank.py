"""The document of a blank: what is measured, and the skin that follows from it.

One table, `BlankDocument`, ties each saved shape name to its class; each class knows how to make its skin and which
uploaded files it is made of.
"""

from collections.abc import Iterator, Mapping
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from engine.blank import Cone, Cylinder, Ovoid, Skin, Stations, read_grid
from engine.job.photographs import SilhouettesDocument
from engine.job.reading import Document, Length, Position, Words
from engine.job.scan import ScanDocument
from engine.job.shapes import UNSTATED_MM, BlankShape, DescribedShape, Deviation, Needed

__all__ = ["BlankDocument", "StationDocument"]


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

    def needed(self) -> Iterator[Needed]:
        """The table."""
        yield Needed("/asset", self.asset, ("table",), "a CSV with columns x_mm, angle_deg, radius_mm")

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The smooth periodic surface through the readings."""
        return read_grid(assets[self.asset], sigma_mm=self.radius_error_mm, unstated_mm=UNSTATED_MM)


BlankDocument = Annotated[
    CylinderDocument
    | ConeDocument
    | OvoidDocument
    | StationsDocument
    | GridDocument
    | ScanDocument
    | SilhouettesDocument,
    Field(discriminator="shape"),
]
