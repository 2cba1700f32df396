"""Fitting a sheet to the art: how much of the skin it lies on, the patch laid flat, the sheet read back.

The patch is a rectangle about the art, turned with it. Where the rectangle lies on the skin follows from the sheet
itself, so the fit is made three times, each on the sheet of the one before; at the last, the rim is the sheet's own.
Refused (LayoutError): art over a pole, a sheet that folds or crosses itself, art that goes more than once round.
"""

from dataclasses import dataclass
from math import tau

import numpy as np
import shapely
from scipy.spatial import cKDTree

from engine.blank import Skin
from engine.kernel.arrays import Floats, frozen_floats
from engine.kernel.errors import LayoutError
from engine.layout.chart.fitted import Fitted, Starts
from engine.layout.chart.flattening import flattened
from engine.layout.chart.footprint import Footprint
from engine.layout.chart.net import Net
from engine.layout.chart.surface import Surface
from engine.layout.chart.tracing import traced
from engine.layout.tensor import refuse_off_blank

__all__ = ["fitted"]

CELL_MM = 1.0  # of a net; measured skins are smooth over as much
COARSE_CELLS, FEWEST_CELLS, MOST_CELLS = 16, 12, 40
MARGINS = ((0.06, 1.5), (0.02, 0.4), (0.005, 0.05))  # beside the art, of its size, and mm: as much as fits
POLE = 0.05  # of the radius at the centre: nearer to the axis no sheet is fitted
MOST_TURN = 1.0  # rad between neighbours of a net: more, and the axis passes between them
INVERSIONS = 15  # of Newton's, from the nearest node
INVERTED_MM = 1e-7  # a place is found that is missed by no more
CROOKED = 0.01  # of the scale between two directions: beyond it a sheet is not angle-true
SMALLER = "make it smaller, move it, or choose another projection"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laid:
    """A net, and coefficients (m, 2) of x and theta over it."""

    net: Net
    places: Floats


def fitted(skin: Skin, x0_mm: float, theta0_rad: float, footprint: Footprint, *, rigid: bool = False) -> Fitted:
    """The sheet with the art's centre at (x0, theta0), its up along +x there, and there of scale 1 unless rigid."""
    refuse_off_blank(np.array([x0_mm]), np.array(skin.x_range_mm))
    first, box, margin = _started(skin, x0_mm, theta0_rad, footprint)
    whole = _grown(box, margin)
    cells = np.clip(np.ceil(np.ptp(whole, axis=0) / CELL_MM), FEWEST_CELLS, MOST_CELLS).astype(np.int64)
    fine = Net(low_mm=whole[0], high_mm=whole[1], cells=(int(cells[0]), int(cells[1])))
    surface = Surface(skin=skin)
    rim = footprint.rim_mm @ footprint.turned.T
    second = _refitted(surface, first, _net(_grown(box, 1.5 * margin)), footprint, rigid=rigid)
    third = _refitted(surface, second, fine, footprint, rim=rim, rigid=rigid)
    last = _refitted(surface, third, fine, footprint, rim=rim, rigid=rigid)
    places = last.places + (np.array([x0_mm, theta0_rad]) - fine.at(last.places, np.zeros((1, 2))))
    layout = _layout(skin, fine, places, footprint)
    _judge(layout, fine, places, box, rigid=rigid)
    return layout


def _started(skin: Skin, x0_mm: float, theta0_rad: float, footprint: Footprint) -> tuple[_Laid, Floats, float]:
    """A first sheet as traced, the box that it is for, and the margin beside that."""
    surface = Surface(skin=skin)
    least = POLE * float(surface.radius(np.array([x0_mm]), np.array([theta0_rad]))[0])
    for box in footprint.boxes_mm:
        for share, more_mm in MARGINS:
            margin = share * float(np.ptp(box, axis=0).max()) + more_mm
            net = _net(_grown(box, 2.0 * margin))
            x, theta = traced(skin, x0_mm, theta0_rad, net.places @ footprint.turned)
            turn = theta.reshape(net.shape)
            jump = max(float(np.abs(np.diff(turn, axis=k)).max()) for k in (0, 1))
            if surface.radius(x, theta).min() > least and jump < MOST_TURN:
                return _Laid(net=net, places=net.through(np.stack([x, theta], axis=1))), box, margin
    raise LayoutError(
        "the art runs over the end of the blank, where the axis comes through its skin",
        where="placement/projection",
        hint=SMALLER,
    )


def _refitted(
    surface: Surface, laid: _Laid, onto: Net, footprint: Footprint, *, rim: Floats | None = None, rigid: bool
) -> _Laid:
    """What is laid, laid flat, and read back over another net of the flat sheet."""
    flat = flattened(laid.net, surface, laid.places, rim_mm=rim, rigid=rigid)
    sheet = _settled(surface, laid, flat, footprint.turn_rad, rigid=rigid)
    before = _inverted(laid.net, sheet, onto.places)
    return _Laid(net=onto, places=onto.through(laid.net.at(laid.places, before)))


def _settled(surface: Surface, laid: _Laid, flat: Floats, turn_rad: float, *, rigid: bool) -> Floats:
    """The flat sheet's coefficients shifted, turned and, unless rigid, sized as they should be at the centre."""
    middle = np.zeros((1, 2))
    x, theta = laid.net.at(laid.places, middle).T
    on_skin, on_sheet = (
        np.stack([laid.net.at(c, middle, slope)[0] for slope in ((1, 0), (0, 1))], axis=1) for c in (laid.places, flat)
    )
    slopes = on_sheet @ np.linalg.inv(on_skin)  # d(p, q) / d(x, theta)
    up = complex(slopes[0, 0], slopes[1, 0])
    factor = 1j * np.exp(-1j * turn_rad) * abs(up) / up
    if not rigid:
        E, F, G = surface.metric(x, theta)
        factor *= float((np.sqrt(E * G - F**2) / abs(np.linalg.det(slopes)))[0]) ** 0.5
    z = (flat - laid.net.at(flat, middle)) @ np.array([1.0, 1j]) * factor
    return np.stack([z.real, z.imag], axis=1)


def _inverted(net: Net, sheet: Floats, wanted: Floats) -> Floats:
    """(n, 2) places of the net whose sheet places are `wanted`."""
    near = cKDTree(net.at(sheet, net.places)).query(wanted)[1]
    at = net.places[near]
    for _ in range(INVERSIONS):
        off = wanted - net.at(sheet, at)
        slopes = np.stack([net.at(sheet, at, (1, 0)), net.at(sheet, at, (0, 1))], axis=2)
        if np.abs(np.linalg.det(slopes)).min() < 1e-6:
            break
        at = at + np.linalg.solve(slopes, off[:, :, None])[:, :, 0]
    else:
        if np.abs(off).max() < INVERTED_MM:
            return np.asarray(at, np.float64)
    raise _folded()


def _layout(skin: Skin, net: Net, places: Floats, footprint: Footprint) -> Fitted:
    even = net.even_coefficients(places)
    low, high = net.low_mm, net.high_mm
    dense = net.samples
    x, theta = net.at(places, dense).T
    radius = float(skin.radius(x, theta).mean())
    per_p, per_q = (net.cells[k] / float(high[k] - low[k]) for k in (0, 1))
    return Fitted(
        skin=skin,
        coefficients=frozen_floats(even),
        frame=(float(low[0]), float(low[1]), per_p, per_q, *net.cells),
        turned=frozen_floats(footprint.turned),
        starts=Starts.of(x, theta, dense, radius),
    )


def _judge(layout: Fitted, net: Net, places: Floats, box: Floats, *, rigid: bool) -> None:
    """LayoutError where two places of the sheet share one of the skin, or the sheet is not what it should be."""
    (x_p, t_p), (x_q, t_q) = ((op @ places).T for op in net.slopes)
    if not (t_p * x_q - t_q * x_p > 0).all():
        raise _folded()
    radius = float(layout.skin.radius(*(net.values @ places).T).mean())
    around, within = (_on_skin(net, places, corners, radius) for corners in (np.array([net.low_mm, net.high_mm]), box))
    if not around.exterior.is_simple:
        raise _folded()
    if within.intersection(shapely.transform(within, lambda p: p + [0.0, tau * radius])).area > 0:
        raise LayoutError(
            "the art goes more than once round the blank and would lie on itself",
            where="placement/width_mm",
            hint="make it smaller",
        )
    if not rigid:
        inside = net.samples[((net.samples >= box[0]) & (net.samples <= box[1])).all(axis=1)]
        E, F, G = layout.tensor(inside[layout.holds(inside @ layout.turned)] @ layout.turned).T
        if len(E) and float((np.hypot(E - G, 2 * F) / (E + G)).max()) > CROOKED:
            raise _folded()


def _on_skin(net: Net, places: Floats, box: Floats, radius_mm: float) -> shapely.Polygon:
    """The box's rim as it lies, in (x, radius x theta)."""
    (p0, q0), (p1, q1) = box
    rim = shapely.segmentize(shapely.box(p0, q0, p1, q1).exterior, 0.25 * float(np.ptp(box, axis=0).max()) / MOST_CELLS)
    return shapely.Polygon(net.at(places, shapely.get_coordinates(rim)) * [1.0, radius_mm])


def _net(box: Floats) -> Net:
    return Net(low_mm=box[0], high_mm=box[1], cells=(COARSE_CELLS, COARSE_CELLS))


def _grown(box: Floats, by_mm: float) -> Floats:
    return box + np.array([[-by_mm], [by_mm]])


def _folded() -> LayoutError:
    return LayoutError(
        "no sheet fitted to so much of this skin lies without a fold", where="placement/projection", hint=SMALLER
    )
