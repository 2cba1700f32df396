"""What a tool of some width cannot reach: the parts of the art, or the gaps between them, that an offset swallows."""

import numpy as np
import shapely

from engine.artwork.regions import Objects
from engine.kernel.findings import Finding, Severity, Where
from engine.layout import Layout
from engine.marking.apart import less
from engine.marking.ground import Ground
from engine.marking.offset import offset

__all__ = ["lost"]

LOOSE = 0.04  # of the distance: arcs of what is grown back need be no truer, for areas are compared
MORE = 1.5 * LOOSE  # so much farther it is grown, lest chords and thinning leave a rim of it along the whole outline
CORNER = 2.3  # what is then left in a corner of 30 degrees, of the radius squared: sharper ones are told


def lost(regions: Objects, left: Objects, by_mm: float, layout: Layout, ground: Ground) -> tuple[Finding, ...]:
    """One warning where `left`, the `regions` offset by `by_mm`, cannot be offset back to them; else none.

    Told are regions (drawn in) or gaps (grown) that are gone whole, and parts of them larger than a corner.
    """
    if not len(regions) or not len(left) or by_mm == 0:
        return ()
    back = offset(left, -(1.0 + MORE) * by_mm, ground, chord_mm=LOOSE * abs(by_mm))
    missed = less(regions, back) if by_mm < 0 else less(back, regions)
    part = missed[shapely.area(missed) > CORNER * by_mm**2]
    whole = _without(regions, left) if by_mm < 0 else _without(_holes(regions), _holes(left))
    told = np.concatenate([part, whole[shapely.area(whole) <= CORNER * by_mm**2]])
    if not len(told):
        return ()
    worst = told[int(np.argmax(np.round(shapely.area(told), 6)))]
    x, theta = (float(one[0]) for one in layout.wrap(shapely.get_coordinates(shapely.point_on_surface(worst))))
    what = "parts of the art are" if by_mm < 0 else "gaps in the art are"
    return (
        Finding(
            severity=Severity.WARNING,
            code="too-narrow",
            message=f"{len(told)} {what} narrower than the {2 * abs(by_mm):.3g} mm that the tool needs and are lost, "
            f"the largest at x {x:.1f}",
            advice="choose a finer tool, less depth, or larger art",
            where=Where.on_skin(x, theta),
        ),
    )


def _holes(regions: Objects) -> Objects:
    """(m,) polygons of all holes."""
    rings, owner = shapely.get_rings(regions, return_index=True)
    return np.asarray(shapely.polygons(rings[np.concatenate([[False], owner[1:] == owner[:-1]])]), object)


def _without(regions: Objects, left: Objects) -> Objects:
    """Those that hold nothing of what is left."""
    bare = np.ones(len(regions), np.bool_)
    bare[shapely.STRtree(shapely.point_on_surface(left)).query(regions, predicate="contains")[0]] = False
    return regions[bare]
