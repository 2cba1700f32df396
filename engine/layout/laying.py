"""From a placement to its layout: one table of projections."""

from math import radians

from engine.artwork import Drawing
from engine.blank import Skin
from engine.kernel.errors import BlankError, LayoutError
from engine.layout.chart import Footprint, fitted
from engine.layout.developed import developed, is_flat_without_turning
from engine.layout.from_view import from_view
from engine.layout.layout import Layout
from engine.layout.placement import Fit, Placement, Projection
from engine.layout.projections import by_meridian

__all__ = ["lay_out"]


def lay_out(skin: Skin, placement: Placement, drawing: Drawing | None = None) -> Layout:
    """The layout of a placement on a skin; drawing : as placed, which only a sheet that is fitted to it asks for.

    LayoutError where the centre is off the blank or the projection unfit.
    """
    x0, theta0 = placement.x_mm, radians(placement.angle_deg)
    if placement.projection is Projection.FROM_VIEW:
        return from_view(skin, x0, theta0, placement.eye)
    if placement.projection is Projection.FITTED:
        footprint = _footprint(placement, drawing)
        return fitted(skin, x0, theta0, footprint, rigid=placement.fit is Fit.RIGID)
    flat = is_flat_without_turning(skin)
    if placement.projection is Projection.DEVELOPED and not flat:
        return developed(skin, x0, theta0)
    named = Projection.EQUIDISTANT if placement.projection is Projection.DEVELOPED else placement.projection
    try:
        return by_meridian(skin, named, x0, theta0)
    except BlankError as exc:
        raise LayoutError(exc.message, where="placement/x_mm", hint=exc.hint) from exc


def _footprint(placement: Placement, drawing: Drawing | None) -> Footprint:
    """Of the art, or where that is not told, of the size asked for it."""
    if drawing is None:
        sizes = [size for size in (placement.width_mm, placement.height_mm) if size is not None]
        if not sizes:
            raise LayoutError(
                "without the art there is nothing to fit a sheet to", where="placement/projection", hint="give a width"
            )
        drawing = Drawing(width_mm=sizes[0], height_mm=sizes[-1])
    return Footprint.of(drawing, placement.turn_deg)
