"""From a placement to its layout: one table of projections."""

from math import radians

from engine.blank import Skin
from engine.kernel.errors import BlankError, LayoutError
from engine.layout.developed import developed, is_flat_without_turning
from engine.layout.from_view import from_view
from engine.layout.layout import Layout
from engine.layout.placement import Placement, Projection
from engine.layout.projections import by_meridian

__all__ = ["lay_out"]


def lay_out(skin: Skin, placement: Placement) -> Layout:
    """The layout of a placement on a skin. LayoutError where the centre is off the blank or the projection unfit."""
    x0, theta0 = placement.x_mm, radians(placement.angle_deg)
    if placement.projection is Projection.FROM_VIEW:
        return from_view(skin, x0, theta0)
    flat = is_flat_without_turning(skin)
    if placement.projection is Projection.DEVELOPED and not flat:
        return developed(skin, x0, theta0)
    named = Projection.EQUIDISTANT if placement.projection is Projection.DEVELOPED else placement.projection
    try:
        return by_meridian(skin, named, x0, theta0)
    except BlankError as exc:
        raise LayoutError(exc.message, where="placement/x_mm", hint=exc.hint) from exc
