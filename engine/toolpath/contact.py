"""Where a tool of revolution first touches the surface that lies a depth under the skin: the smooth solver.

Frame of a tool over (x, theta): a point of the skin with radius r at the angle a from the tool has the height r cos a
along the tool and the lateral place (dx, r sin a); exact, nothing is unrolled. Outward normal in (x, radial, around):
N = (-r_x, 1, -r_theta / r) / sqrt(1 + r_x**2 + (r_theta / r)**2).
Depth of a place is its distance below the skin. The places at depth d make the parallel surface S = P - d N, and the
tip stands at z = max over S of height(S) - form(lateral distance of S): the deepest place under the tool is just at d.
Every form is a disc of radius `flat` whose rim is rounded by `rounded`; such a disc touches where the parallel surface
V = P + (rounded - d) N is highest over the disc. A point (ball, sharp cone) is solved by Broyden's method, a disc by a
trust-region step on a model learnt from the slopes. Flanks, shanks and second contacts are the dense search's matter.
Sources: parallel surfaces, M. do Carmo, Differential Geometry of Curves and Surfaces, 3-5; C. G. Broyden, Math. Comp.
19 (1965); secular equation, J. More and D. Sorensen, SIAM J. Sci. Stat. Comput. 4 (1983).
"""

import math

from engine.blank import Frame, spline_at
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled

__all__ = ["over_place", "seen_from", "smooth_contact"]

_STOP_MM = 2e-4  # lateral residual: its error, residual**2 x curvature / 2, is under 1e-6 mm for radii down to 0.02 mm
_STEPS = 25  # both solvers settle in 2 to 8; more means a fold, and the dense search decides
_GRAZING = 0.02  # a normal leaning more than 88.9 degrees from the tool: no sound contact


@compiled
def seen_from(
    C: Floats, frame: Frame, raised: float, x: float, th: float, tool_th: float
) -> tuple[float, float, float, float, float, float, float]:
    """V = P + raised N of the foot (x, th), seen by a tool at tool_th: Vx, Vy, Vh, Nx, Ny, Nh, r."""
    r, rx, rt = spline_at(C, frame, x, th)
    s = rt / r
    n = 1.0 / math.sqrt(1.0 + rx * rx + s * s)
    ca = math.cos(th - tool_th)
    sa = math.sin(th - tool_th)
    Nx = -rx * n
    Nh = (ca + s * sa) * n
    Ny = (sa - s * ca) * n
    return x + raised * Nx, r * sa + raised * Ny, r * ca + raised * Nh, Nx, Ny, Nh, r


@compiled
def over_place(
    C: Floats, frame: Frame, raised: float, x: float, th: float, qx: float, qy: float, foot_x: float, foot_th: float
) -> tuple[float, float, float, bool]:
    """Height of the parallel surface over the lateral place (qx, qy) of a tool at (x, th), and the foot under it.

    foot_x, foot_th : first guess. Returns height, foot_x, foot_th, settled. Broyden's good method on the inverse, then
    the tangent plane for what is left of the residual.
    """
    Vx, Vy, Vh, Nx, Ny, Nh, r = seen_from(C, frame, raised, foot_x, foot_th, th)
    gx = Vx - x - qx
    gy = Vy - qy
    i00 = 1.0  # inverse Jacobian, d(foot, mm) / d(residual): the body's own roundness is known
    i01 = 0.0
    i10 = 0.0
    i11 = r / (r + raised) if r + raised > 0.2 * r else 1.0
    for _ in range(_STEPS):
        if gx * gx + gy * gy < _STOP_MM * _STOP_MM:
            break
        sx = -(i00 * gx + i01 * gy)
        sy = -(i10 * gx + i11 * gy)
        long = math.hypot(sx, sy) / (0.25 * r + abs(raised))
        if long > 1.0:  # no wild first step
            sx /= long
            sy /= long
        foot_x += sx
        foot_th += sy / r
        Vx, Vy, Vh, Nx, Ny, Nh, r = seen_from(C, frame, raised, foot_x, foot_th, th)
        yx = Vx - x - qx - gx
        yy = Vy - qy - gy
        gx += yx
        gy += yy
        ux = i00 * yx + i01 * yy
        uy = i10 * yx + i11 * yy
        den = sx * ux + sy * uy
        if abs(den) > 1e-14:
            wx = (sx - ux) / den
            wy = (sy - uy) / den
            vx = sx * i00 + sy * i10
            vy = sx * i01 + sy * i11
            i00 += wx * vx
            i01 += wx * vy
            i10 += wy * vx
            i11 += wy * vy
    settled = gx * gx + gy * gy < 1e-6 and Nh > _GRAZING
    return Vh + (Nx * gx + Ny * gy) / Nh, foot_x, foot_th, settled


@compiled
def _top_of_disc(px: float, py: float, b00: float, b01: float, b11: float, f: float) -> tuple[float, float]:
    """Where p.q + q'Bq / 2 is greatest over |q| <= f: the secular equation in B's own axes, exact, hollow or not."""
    t = 0.5 * (b00 + b11)
    h = 0.5 * (b00 - b11)
    w = math.hypot(h, b01)
    l1 = t + w
    l2 = t - w
    c = 1.0
    s = 0.0
    if w > 0.0:
        c = math.sqrt(max(0.5 * (1.0 + h / w), 0.0))
        s = math.copysign(math.sqrt(max(0.5 * (1.0 - h / w), 0.0)), b01)
    p1 = c * px + s * py
    p2 = -s * px + c * py
    if l1 < 0.0:
        q1 = -p1 / l1
        q2 = -p2 / l2
        if q1 * q1 + q2 * q2 <= f * f:
            return c * q1 - s * q2, s * q1 + c * q2
    if abs(p1) < 1e-12:
        p1 = 1e-12  # level across the hollow axis: either side will do
    lam = max(0.0, l1 + abs(p1) / f, l2 + abs(p2) / f)
    for _ in range(12):
        q1 = p1 / (lam - l1)
        q2 = p2 / (lam - l2)
        size2 = q1 * q1 + q2 * q2
        size = math.sqrt(size2)
        if abs(size - f) < 1e-10 * f:
            break
        lam += (size / f - 1.0) * size2 / (q1 * q1 / (lam - l1) + q2 * q2 / (lam - l2))
    q1 = p1 / (lam - l1)
    q2 = p2 / (lam - l2)
    k = min(f / max(math.hypot(q1, q2), 1e-300), 1.0)
    return k * (c * q1 - s * q2), k * (s * q1 + c * q2)


@compiled
def _under_disc(
    C: Floats, frame: Frame, raised: float, x: float, th: float, f: float
) -> tuple[float, float, float, bool]:
    """Greatest height of the parallel surface over a disc of radius f, and the foot of the place."""
    foot_x = x
    foot_th = th
    Vx, Vy, Vh, Nx, Ny, Nh, r = seen_from(C, frame, raised, foot_x, foot_th, th)
    b00 = 0.0
    b01 = 0.0
    b11 = -1.0 / max(r + raised, 0.2 * r)
    top = Vh
    for k in range(_STEPS):
        cx = Vx - x
        px = -Nx / Nh
        py = -Ny / Nh
        qx, qy = _top_of_disc(px - b00 * cx - b01 * Vy, py - b01 * cx - b11 * Vy, b00, b01, b11, f)
        sx = qx - cx
        sy = qy - Vy
        top = Vh + px * sx + py * sy + 0.5 * (b00 * sx * sx + 2.0 * b01 * sx * sy + b11 * sy * sy)
        if sx * sx + sy * sy < _STOP_MM * _STOP_MM and k > 0:
            return top, foot_x, foot_th, True
        if k > 8:  # it does not settle: shorter steps
            sx *= 0.5
            sy *= 0.5
        foot_x += sx
        foot_th += sy / max(r + raised, 0.2 * r)
        Wx, Wy, Wh, Nx, Ny, Nh, r = seen_from(C, frame, raised, foot_x, foot_th, th)
        if not Nh > _GRAZING:
            return top, foot_x, foot_th, False
        dx = Wx - Vx
        dy = Wy - Vy
        ux = -Nx / Nh - px - b00 * dx - b01 * dy
        uy = -Ny / Nh - py - b01 * dx - b11 * dy
        den = ux * dx + uy * dy
        if abs(den) > 1e-8 * math.hypot(ux, uy) * math.hypot(dx, dy) and math.hypot(dx, dy) > 1e-7:
            b00 += ux * ux / den
            b01 += ux * uy / den
            b11 += uy * uy / den
        Vx = Wx
        Vy = Wy
        Vh = Wh
    return top, foot_x, foot_th, False


@compiled
def smooth_contact(
    C: Floats, frame: Frame, x: float, th: float, depth: float, flat: float, rounded: float
) -> tuple[float, bool]:
    """Tip's distance from the axis by the nearest contact alone, mm, and whether that contact is sound.

    Not sound: the solver did not settle, or the foot lies off the sampled stretch of the blank.
    """
    if flat == 0.0:
        top, foot_x, _, settled = over_place(C, frame, rounded - depth, x, th, 0.0, 0.0, x, th)
    else:
        top, foot_x, _, settled = _under_disc(C, frame, rounded - depth, x, th, flat)
    return top - rounded, settled and frame[0] <= foot_x <= frame[1]
