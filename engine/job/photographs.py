"""The documents of photographs of a turned blank, and the skin that follows from them."""

from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Annotated, Literal

import numpy as np
from pydantic import Field

from engine.artwork import read_photograph
from engine.blank import Skin
from engine.job.reading import Angle, Document, Length, Words
from engine.job.shapes import Asking, BlankShape, Deviation, Needed, below_blank
from engine.kernel.errors import BlankError, EngineError
from engine.kernel.findings import Finding, Severity, Where
from engine.measure import Measured
from engine.measure.photographs import Edge, Lens, Mend, Setup, find_edge, skin_from_edges

__all__ = ["AxisDocument", "EdgeDocument", "PhotographsDocument", "SilhouettesDocument"]

MOST_PHOTOS = 72  # every 5 degrees of a turn
SENSELESS = 0.25  # of the radius: a skin no better known than this was not seen
LOST = 0.1  # of the places between the ends at which a silhouette says that there is no blank
LENS_NOT_TOLD = Finding(
    severity=Severity.WARNING,
    code="lens-not-told",
    message="the lens is taken to be perfect: a phone's bends a picture so that a radius of 40 mm may be half a mm off",
    advice="photograph the printed card with the same camera and zoom, or check one diameter with callipers",
    where=Where(pointer="/k1"),
)
AT_ONCE = 2  # photographs whose edges are sought: decoding and arrays let each other run

Pixels = Annotated[float, Field(ge=-100_000, le=100_000)]
Pixel = tuple[Pixels, Pixels]
Outline = Annotated[tuple[Pixel, ...], Field(min_length=3, max_length=2000)]


class AxisDocument(Document):
    """Two points on the axis of rotation as every photograph shows them: from_px is station x = 0."""

    from_px: Pixel
    to_px: Pixel


class EdgeDocument(Document):
    """A photograph and what a person mended of its edge.

    threshold : colour distance from the background (CIE 1976 Delta E), null is chosen. include, exclude : polygons
    that are blank, and that are background. moved : pairs of where the found edge is and where it is to go.
    """

    asset: Words
    threshold: Annotated[float, Field(gt=0, le=400)] | None = None
    include: tuple[Outline, ...] = Field(default=(), max_length=64)
    exclude: tuple[Outline, ...] = Field(default=(), max_length=64)
    moved: tuple[tuple[Pixel, Pixel], ...] = Field(default=(), max_length=200)

    def edge(self, assets: Mapping[str, bytes], axis: AxisDocument | None, *, at: str) -> Edge:
        """The edge of the blank; `at` is the photograph's own place in its document.

        EngineError, with the place, where the picture cannot be read, or the axis or a mend is none.
        """
        axis_px = None if axis is None else (axis.from_px, axis.to_px)
        include, exclude, moved = (
            tuple(np.array(place) for place in places) for places in (self.include, self.exclude, self.moved)
        )
        try:
            mend = Mend(include=include, exclude=exclude, moved=moved)
            return find_edge(read_photograph(assets[self.asset]), threshold=self.threshold, axis_px=axis_px, mend=mend)
        except EngineError as exc:
            mended = exc.where.removeprefix("/mend")
            exc.where = "/axis/to_px" if exc.where == "/axis_px" else at + (mended if mended != exc.where else "/asset")
            raise


class PhotographDocument(EdgeDocument):
    """angle_deg : where the rotary stood."""

    angle_deg: Angle


class PhotographsDocument(Asking):
    """Photographs, and how they were taken.

    k1, k2 : radial distortion of the lens over the half diagonal (`Lens`), k1_sigma the first one's error; all 0 is a
    perfect lens. The other sigmas are one standard deviation of what may be wrong: the marked points, each angle, the
    stand.
    holder_sigma_mm : runout of the round hardware that the pictures show beyond the points; null: it is no guide.
    axis_photo : the photograph, from 0, in which the two points were marked; null: they stand for all of them.
    """

    photos: tuple[PhotographDocument, ...] = Field(min_length=1, max_length=MOST_PHOTOS)
    axis: AxisDocument
    length_mm: Length
    camera_mm: Length | None = None
    camera_deg: Angle = 0.0
    k1: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    k2: Annotated[float, Field(ge=-0.5, le=0.5)] = 0.0
    k1_sigma: Annotated[float, Field(ge=0, le=0.5)] = 0.0
    axis_photo: Annotated[int, Field(ge=0, lt=MOST_PHOTOS)] | None = None
    axis_sigma_px: Annotated[float, Field(ge=0, le=100)] = 1.0
    angle_sigma_deg: Annotated[float, Field(ge=0, le=10)] = 0.5
    wobble_sigma_mm: Annotated[float, Field(ge=0, le=10)] = 0.3
    holder_sigma_mm: Annotated[float, Field(ge=0, le=10)] | None = 0.03

    def needed(self) -> Iterator[Needed]:
        """The photographs."""
        for k, photo in enumerate(self.photos):
            yield Needed(f"/photos/{k}/asset", photo.asset, ("raster",), "a photograph")

    def measured(self, assets: Mapping[str, bytes]) -> Measured:
        """The skin. BlankError where none can be made of them."""
        with ThreadPoolExecutor(AT_ONCE) as pool:
            edges = list(
                pool.map(lambda k: self.photos[k].edge(assets, self.axis, at=f"/photos/{k}"), range(len(self.photos)))
            )
        setup = Setup(
            axis_from_px=self.axis.from_px,
            axis_to_px=self.axis.to_px,
            size_px=edges[0].size_px,
            length_mm=self.length_mm,
            camera_mm=self.camera_mm,
            camera_deg=self.camera_deg,
            lens=self._lens(),
            axis_photo=self.axis_photo,
            axis_sigma_px=self.axis_sigma_px,
            angle_sigma_deg=self.angle_sigma_deg,
            wobble_sigma_mm=self.wobble_sigma_mm,
            holder_sigma_mm=self.holder_sigma_mm,
        )
        measured = skin_from_edges(edges, [photo.angle_deg for photo in self.photos], setup)
        typical = float(np.median(measured.radius_mm))
        inner = measured.radius_mm[len(measured.x_mm) // 10 : -len(measured.x_mm) // 10]
        if not float(np.median(measured.sigma_mm)) < SENSELESS * typical or (inner <= 0.0).mean() > LOST:
            raise BlankError(
                "the photographs give no skin between the two marked points",
                where="/axis",
                hint="mark the axis of rotation where the blank begins and ends; check the length between the points",
            )
        return measured if self._lens() is not None else measured.with_findings([LENS_NOT_TOLD])

    def _lens(self) -> Lens | None:
        if not (self.k1 or self.k2 or self.k1_sigma):
            return None
        try:
            return Lens(k1=self.k1, k2=self.k2, k1_sigma=self.k1_sigma)
        except BlankError as exc:
            exc.where = "/k1"
            raise


class SilhouettesDocument(PhotographsDocument, BlankShape):
    """A blank by its photographs. radius_error_mm : null is as they show it place by place."""

    shape: Literal["silhouettes"]
    radius_error_mm: Deviation | None = None

    def skin(self, assets: Mapping[str, bytes]) -> Skin:
        """The skin that the photographs show."""
        with below_blank():
            measured = self.measured(assets)
        return measured.skin(self.radius_error_mm)
