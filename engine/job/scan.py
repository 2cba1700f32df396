"""The document of a scan: a mesh, its unit, its axis, and the handles that move it; and the skin that follows."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Annotated, Literal

import numpy as np
from pydantic import Discriminator, Field, Tag

from engine.blank import Skin
from engine.job.reading import Angle, Document, Position, Words
from engine.job.shapes import Asking, BlankShape, Deviation, Needed, below_blank
from engine.kernel.units import INCH_MM
from engine.measure import Measured
from engine.measure.scan import Axis, Mesh, find_axis, read_mesh, scan_skin

__all__ = ["ScanDocument", "ScannedDocument"]

UNIT_MM = {"mm": 1.0, "inch": INCH_MM}
Part = Annotated[float, Field(ge=-1e6, le=1e6)]
Triple = tuple[Part, Part, Part]


class AxisGiven(Document):
    """An axis in the file's own frame and unit: a point of it, where x = 0 lies, and where +X goes."""

    origin: Triple
    direction: Triple


class ScannedDocument(Asking):
    """A mesh. unit : of the file, always stated. axis : found by inertia, or given.

    The handles move the found or given axis: turned about the file's place of the axis, then shifted; theta_zero_deg
    is the angle, as it lies without it, that becomes 0. flip : +X towards the other end.
    """

    asset: Words
    unit: Literal["mm", "inch"]
    axis: Annotated[
        Annotated[Literal["auto"], Tag("auto")] | Annotated[AxisGiven, Tag("given")],
        Discriminator(lambda value: "auto" if isinstance(value, str) else "given"),
    ] = "auto"
    flip: bool = False
    turn_y_deg: Angle = 0.0
    turn_z_deg: Angle = 0.0
    shift_x_mm: Position = 0.0
    shift_y_mm: Position = 0.0
    shift_z_mm: Position = 0.0
    theta_zero_deg: Angle = 0.0

    def needed(self) -> Iterator[Needed]:
        """The mesh."""
        yield Needed("/asset", self.asset, ("mesh",), "a scan (STL, OBJ or PLY)")

    def laid(self, assets: Mapping[str, bytes]) -> tuple[Measured, Axis]:
        """The skin and the axis, in mm of the file's frame. BlankError where none can be made of the mesh."""
        mesh = read_mesh(assets[self.asset])
        axis = self._axis(mesh)
        return scan_skin(mesh, axis, unit_mm=UNIT_MM[self.unit]), axis

    def _axis(self, mesh: Mesh) -> Axis:
        unit = UNIT_MM[self.unit]
        if isinstance(self.axis, AxisGiven):
            axis = Axis(origin=unit * np.array(self.axis.origin), direction=np.array(self.axis.direction))
        else:
            axis = find_axis(mesh, unit)
        axis = axis.end_for_end() if self.flip else axis
        if self.turn_y_deg or self.turn_z_deg:
            axis = axis.turned(self.turn_y_deg, self.turn_z_deg)
        if self.shift_y_mm or self.shift_z_mm:
            axis = axis.shifted(self.shift_y_mm, self.shift_z_mm)
        return replace(axis, x_zero_mm=axis.x_zero_mm + self.shift_x_mm, angle_deg=axis.angle_deg + self.theta_zero_deg)


class ScanDocument(ScannedDocument, BlankShape):
    """A blank by its scan. radius_error_mm : null is as the mesh shows it place by place."""

    shape: Literal["scan"]
    radius_error_mm: Deviation | None = None

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The skin of the mesh about its axis."""
        with below_blank():
            measured, _ = self.laid(assets)
        return measured.skin(self.radius_error_mm)
