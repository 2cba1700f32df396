"""A mesh met by rays from its axis: at each station and angle the greatest radius, exact in ray and triangle.

Each triangle is cut at each station it spans (a segment), each segment met by each ray it spans: no cell is looked at
in vain, no special case for triangles around the axis or across theta = pi. Neighbours share crossings and signs bit
for bit, so no ray slips between them. Sections are half-open (a vertex at the station counts as above it, one on the
ray as left of it), so a ray is counted once for each time it truly goes through; the greatest radius takes edges that
lie in the station's plane as well. A facet wholly in that plane is no skin and is passed over.
"""

from dataclasses import dataclass

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints, frozen_floats, frozen_ints, locked
from engine.kernel.compiled import compiled
from engine.kernel.errors import BlankError
from engine.kernel.units import TURN_RAD
from engine.measure.measured import even_angles
from engine.measure.scan.axis import Axis
from engine.measure.scan.mesh import Mesh

__all__ = ["Rays", "polar"]

MOST_CELLS = 2_000_000  # 16 MB of radii: 2,000 stations at 1,000 angles
WIDER = 1e-9  # of an angle's step: more than atan2 errs by; the signs decide


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rays:
    """What the rays met; all (m, n) at m stations and n even angles.

    radius_mm : the greatest, 0 where nothing was met. face : the face met there, -1. times : how often the ray goes
    through the mesh. second_mm, third_mm : the radii of the next meetings inwards, 0 where there are none.
    second_face : the face of the second, -1.
    """

    x_mm: Floats
    radius_mm: Floats
    face: Ints
    times: Ints
    second_mm: Floats
    third_mm: Floats
    second_face: Ints

    @property
    def met(self) -> Bools:
        """(m, n) True where a ray met the mesh."""
        return np.asarray(self.face >= 0)

    @property
    def hidden_mm(self) -> Floats:
        """(m, n) how far below the skin an undercut reaches: out, in again and out are three meetings; 0 elsewhere."""
        return np.where(self.times >= 3, np.maximum(self.radius_mm - self.third_mm, 0.0), 0.0)

    @property
    def wall_mm(self) -> Floats:
        """(m, n) from the skin to an inner one, where the ray goes through just twice; 0 elsewhere."""
        return np.where(self.times == 2, np.maximum(self.radius_mm - self.second_mm, 0.0), 0.0)


def polar(mesh: Mesh, axis: Axis, x_mm: Floats, count: int) -> Rays:
    """Rays from the axis at rising stations x_mm (m,) and `count` even angles against a mesh in mm.

    Raises
    ------
    BlankError where the grid is no grid or has more than MOST_CELLS cells.
    """
    stations = frozen_floats(x_mm)
    if stations.ndim != 1 or not (np.isfinite(stations).all() and (np.diff(stations) > 0).all()):
        raise BlankError("the stations do not rise", where="/step_mm", hint="give a step above 0")
    if count < 3 or len(stations) == 0 or len(stations) * count > MOST_CELLS:
        raise BlankError(
            f"{len(stations):,} stations by {count:,} angles are too many or too few",
            where="/step_mm",
            hint=f"at least 3 angles, at most {MOST_CELLS:,} places",
        )
    points = axis.within(mesh.vertices)
    along = points[:, 0][mesh.faces]
    first = np.searchsorted(stations, along.min(axis=1), "left")
    after = np.searchsorted(stations, along.max(axis=1), "right")
    shape = (len(stations), count)
    radii = np.zeros((4, *shape))
    face, times = np.full((3, *shape), -1, np.int64), np.zeros(shape, np.int64)
    theta = even_angles(count)
    rays = np.ascontiguousarray(np.stack([np.cos(theta), np.sin(theta)], axis=1))
    _meet(points, mesh.faces, stations, first, after, rays, radii, face, times)
    return Rays(
        x_mm=stations,
        radius_mm=locked(radii[0]),
        face=frozen_ints(face[0]),
        times=frozen_ints(times),
        second_mm=locked(radii[2]),
        third_mm=locked(radii[3]),
        second_face=frozen_ints(face[2]),
    )


@compiled
def _meet(
    points: Floats,
    faces: Ints,
    stations: Floats,
    first: Ints,
    after: Ints,
    rays: Floats,
    radii: Floats,
    face: Ints,
    times: Ints,
) -> None:
    """Fills radii (4, m, n): greatest of all, then the three greatest of true meetings; face (3, m, n): of the first
    three of these; and `times`.
    """
    for f in range(len(faces)):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        for i in range(first[f], after[f]):
            x = stations[i]
            below = (points[a, 0] < x) * 1 + (points[b, 0] < x) * 2 + (points[c, 0] < x) * 4
            if below == 7:
                continue
            if below == 0:
                level = (points[a, 0] == x) * 1 + (points[b, 0] == x) * 2 + (points[c, 0] == x) * 4
                if level in (3, 5, 6):  # an edge in the plane, the facet above it
                    p, q = (a, b) if level == 3 else ((a, c) if level == 5 else (b, c))
                    _sweep(
                        points[p, 1], points[p, 2], points[q, 1], points[q, 2], rays, i, f, False, radii, face, times
                    )
                continue
            # The corner that is alone on its side, and the other two.
            if below in (1, 6):
                p, q, s = a, b, c
            elif below in (2, 5):
                p, q, s = b, c, a
            else:
                p, q, s = c, a, b
            py, pz = _crossing(points, p, q, x)
            qy, qz = _crossing(points, p, s, x)
            _sweep(py, pz, qy, qz, rays, i, f, True, radii, face, times)


@compiled
def _crossing(points: Floats, p: int, q: int, x: float) -> tuple[float, float]:
    """(y, z) where an edge goes through the plane at x: reckoned from its lower end, the same for both its facets."""
    if points[p, 0] >= x:
        p, q = q, p
    if points[q, 0] == x:
        return points[q, 1], points[q, 2]
    t = (x - points[p, 0]) / (points[q, 0] - points[p, 0])
    y = points[p, 1] + t * (points[q, 1] - points[p, 1])
    z = points[p, 2] + t * (points[q, 2] - points[p, 2])
    return y, z


@compiled
def _sweep(
    py: float,
    pz: float,
    qy: float,
    qz: float,
    rays: Floats,
    i: int,
    f: int,
    through: bool,
    radii: Floats,
    face: Ints,
    times: Ints,
) -> None:
    """The segment from p to q of section i against the rays between its ends."""
    n = len(rays)
    step = TURN_RAD / n
    start = np.arctan2(pz, py)
    span = np.arctan2(qz, qy) - start
    if span > np.pi:
        span -= TURN_RAD
    elif span < -np.pi:
        span += TURN_RAD
    low = min(start, start + span)
    for j in range(int(np.ceil(low / step - WIDER)), int(np.floor((low + abs(span)) / step + WIDER)) + 1):
        k = j % n
        dy, dz = rays[k, 0], rays[k, 1]
        a = dy * pz - dz * py
        b = dy * qz - dz * qy
        pr, qr = dy * py + dz * pz, dy * qy + dz * qz
        if (a < 0) != (b < 0):
            r = pr + (qr - pr) * (a / (a - b))
            if through and r > 0:
                times[i, k] += 1
                _rank(radii, face, i, k, r, f)
        elif a == 0.0 or b == 0.0:
            r = max(pr if a == 0.0 else 0.0, qr if b == 0.0 else 0.0)
        else:
            continue
        if r > radii[0, i, k]:
            radii[0, i, k] = r
            face[0, i, k] = f


@compiled
def _rank(radii: Floats, face: Ints, i: int, k: int, r: float, f: int) -> None:
    """Put r among the three greatest meetings of a ray, and f among the faces of the two greatest."""
    if r > radii[1, i, k]:
        radii[3, i, k] = radii[2, i, k]
        radii[2, i, k], face[2, i, k] = radii[1, i, k], face[1, i, k]
        radii[1, i, k], face[1, i, k] = r, f
    elif r > radii[2, i, k]:
        radii[3, i, k] = radii[2, i, k]
        radii[2, i, k], face[2, i, k] = r, f
    elif r > radii[3, i, k]:
        radii[3, i, k] = r
