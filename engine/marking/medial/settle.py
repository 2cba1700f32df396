"""Places moved until they are equally far from the edges they were found between, and their true distance then.

Least-norm Gauss-Newton on the differences of the distances, each step at most half the distance; the foot on each side
slides along its curve meanwhile. Where an edge is nearer than those, it takes the place of the one whose foot is most
on its side. The radius is always the distance to the nearest edge of all, so that no disc leaves the outline.
"""

import numpy as np

from engine.kernel.arrays import Floats, Ints
from engine.kernel.compiled import compiled
from engine.marking.medial.edges import Edges, foot, is_inside, nearest, nearest_from, walk

__all__ = ["settled"]

ROUNDS = 10
SWAPS = 3  # a place lies between three edges: each may be the wrong one once
EVEN_MM = 1e-6  # distances that differ by less are equal
STILL_MM = 1e-9  # a step so short is followed by none: each leaves the square of the one before


@compiled
def settled(edges: Edges, places: Floats, sides: Ints, metric: Floats) -> tuple[Floats, Floats]:
    """(n, 2) where the places come to rest, and (n,) their distance from the nearest edge; -1 where that is outside.

    sides : (n, k) edges, k 2 or 3, overwritten by those that were found to be nearest. metric : (n, 3) E, F, G at each.
    What does not come to rest inside the outline, within its own first distance, is tried once more from the middle of
    its feet, and then stays where it was.
    """
    line, beside, turn, box, leaf = edges.line, edges.beside, edges.turn, edges.box, edges.leaf
    out, radius = places.copy(), np.zeros(len(places))
    for n in range(len(places)):
        E, F, G = metric[n, 0], metric[n, 1], metric[n, 2]
        mine, bx, by, again = sides[n], out[n, 0], out[n, 1], True
        for swap in range(SWAPS + 1):
            x, y, even = _evened(line, beside, bx, by, mine, E, F, G)
            own = np.inf
            for k in range(len(mine)):
                own = min(own, foot(line, mine[k], x, y, E, F, G)[0])
            r, near = nearest(line, box, leaf, x, y, E, F, G, own * (1.0 + 1e-9) + 1e-12)
            if near < 0:
                r = own
            if near >= 0 and r < own - 1e-7 and swap < SWAPS:
                _swap(line, mine, near, x, y, E, F, G)
                continue
            if even and (near < 0 or is_inside(line, beside, turn, near, x, y)):
                out[n, 0], out[n, 1], radius[n] = x, y, r
                break
            if again and swap < SWAPS:
                bx, by, again = *_between(line, mine, out[n, 0], out[n, 1]), False
                continue
            r, near = nearest_from(line, box, leaf, mine[0], out[n, 0], out[n, 1], E, F, G)
            radius[n] = r if is_inside(line, beside, turn, near, out[n, 0], out[n, 1]) else -1.0
            break
    return out, radius


@compiled
def _between(line: Floats, sides: Ints, x: float, y: float) -> tuple[float, float]:
    """The middle of the feet of a place on its sides."""
    mx = my = 0.0
    for i in sides:
        t = foot(line, i, x, y, 1.0, 0.0, 1.0)[3]
        mx, my = mx + line[i, 0] + t * line[i, 2], my + line[i, 1] + t * line[i, 3]
    return mx / len(sides), my / len(sides)


@compiled
def _evened(
    line: Floats, beside: Ints, x: float, y: float, sides: Ints, E: float, F: float, G: float
) -> tuple[float, float, bool]:
    """Where the distances to the sides become equal; False where they do not, or only farther off than they are."""
    x0, y0, reach, spread = x, y, 0.0, 0.0
    for turn in range(ROUNDS):
        m11, m12, m22, r1, r2 = 1e-9, 0.0, 1e-9, 0.0, 0.0
        d0, gx0, gy0 = 0.0, 0.0, 0.0
        spread = 0.0
        for k in range(len(sides)):
            sides[k] = walk(line, beside, sides[k], x, y, E, F, G)
            d, gx, gy, _ = foot(line, sides[k], x, y, E, F, G)
            if k == 0:
                d0, gx0, gy0 = d, gx, gy
                continue
            jx, jy, f = gx0 - gx, gy0 - gy, d0 - d
            spread = max(spread, abs(f))
            m11, m12, m22 = m11 + jx * jx, m12 + jx * jy, m22 + jy * jy
            r1, r2 = r1 + jx * f, r2 + jy * f
        if turn == 0:
            reach = d0
        det = m11 * m22 - m12 * m12
        mx, my = -(m22 * r1 - m12 * r2) / det, -(m11 * r2 - m12 * r1) / det
        size = np.sqrt(mx * mx + my * my)
        if size < STILL_MM:
            break
        hold = min(1.0, 0.5 * max(d0, 1e-9) / size)
        x, y = x + hold * mx, y + hold * my
    near = (x - x0) ** 2 + (y - y0) ** 2 < max(reach, 1e-6) ** 2
    return x, y, near and spread < EVEN_MM


@compiled
def _swap(line: Floats, sides: Ints, near: int, x: float, y: float, E: float, F: float, G: float) -> None:
    """`near` in the place of the side that lies most in its direction."""
    _, gx, gy, _ = foot(line, near, x, y, E, F, G)
    best, at = -np.inf, 0
    for k in range(len(sides)):
        _, hx, hy, _ = foot(line, sides[k], x, y, E, F, G)
        alike = (gx * hx + gy * hy) / np.sqrt((gx * gx + gy * gy) * (hx * hx + hy * hy) + 1e-300)
        if alike > best:
            best, at = alike, k
    sides[at] = near
