"""The documents of photographs of a turned blank."""

from collections.abc import Mapping
from typing import Annotated

import numpy as np
from pydantic import Field

from engine.artwork import read_photograph
from engine.job.reading import Document, Words
from engine.measure.photographs import Edge, Mend, find_edge

__all__ = ["AxisDocument", "EdgeDocument"]

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

    def edge(self, assets: Mapping[str, bytes], axis: AxisDocument | None) -> Edge:
        """The edge of the blank. EngineError where the picture cannot be read."""
        include, exclude, moved = (
            tuple(np.array(place) for place in places) for places in (self.include, self.exclude, self.moved)
        )
        mend = Mend(include=include, exclude=exclude, moved=moved)
        picture = read_photograph(assets[self.asset])
        axis_px = None if axis is None else (axis.from_px, axis.to_px)
        return find_edge(picture, threshold=self.threshold, axis_px=axis_px, mend=mend)
