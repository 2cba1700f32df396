"""Strokes through the forks of an axis as a hand would draw them: straight through, or to a point where they meet.

At every fork the branches are cut where they feel nothing of each other. The straightest pair goes on through; two that
bend sharply meet where their ways cross; what is left runs on to what it meets. A short branch between two forks whose
arms go straight across is the middle of a crossing, and one into the corner where two others meet is a corner's.
"""

import numpy as np

from engine.kernel.arrays import Bools, Floats, Ints
from engine.kernel.compiled import compiled
from engine.kernel.ragged import Ragged
from engine.marking.medial.arms import Arms, ahead, arms_of, place_at, radius_at
from engine.marking.medial.axis import Medial
from engine.marking.medial.trails import branches

__all__ = ["strokes_of"]

SMOOTH = 0.85  # cosine of the bend up to which a stroke goes through in a curve; beyond, in a corner
ACROSS = 0.9  # cosine under which no pair of arms goes straight across a crossing
SECOND = 0.7  # the same for a second pair at one fork
BRIDGE = 2.2  # radii: the longest middle of a crossing; of one at 30 degrees it is 1.7
TAIL = 6.0  # radii: the longest branch into a corner
NEAR = 1.0  # radii of its tip, within which the corner's strokes must meet
BLUNT = 0.75  # of a stroke's half-width: a corner that is narrower is no place for the tip
SHARP = 1.15  # radii of the fork, no farther from it the corner of two arms is looked for
STEPS = 24  # of a way on, as far as REACH radii beyond where the fork is
REACH = 2.5
MOST = 64  # points of a piece through a fork


def strokes_of(axis: Medial, stops: Bools) -> Ragged:
    """Runs of places. stops : (n,) nodes of two links at which branches met that are gone: corners, perhaps."""
    node, offset = branches(axis, stops)
    if len(offset) < 2:
        return Ragged(points=np.zeros((0, 2)), offsets=np.zeros(1, np.int64))
    arms = arms_of(axis, node, offset)
    order = np.argsort(arms.fork, kind="stable")
    mate, gone, tips = _paired(arms, order)
    piece, length = _pieces(arms, order, mate, gone, tips)
    points, offsets = _runs(arms, mate, gone, piece, length)
    return Ragged(points=points, offsets=offsets)


@compiled
def _straight(arms: Arms, i: int, j: int) -> float:
    """Cosine of the greater bend of a stroke from where arm i was cut to where arm j was."""
    ex, ey = arms.spot[j, 0] - arms.spot[i, 0], arms.spot[j, 1] - arms.spot[i, 1]
    size = max(np.sqrt(ex * ex + ey * ey), 1e-12)
    one = (arms.way[i, 0] * ex + arms.way[i, 1] * ey) / size
    two = -(arms.way[j, 0] * ex + arms.way[j, 1] * ey) / size
    return min(one, two)


@compiled
def _paired(arms: Arms, order: Ints) -> tuple[Ints, Bools, Ints]:
    """(ends,) the end that each goes on with, -1: none; (branches,) whether a branch is not drawn; (ends,) the node at
    the tip of the corner that an arm goes into, -1: none is known.
    """
    tips = np.full(len(arms.fork), -1, np.int64)
    mate = np.full(len(arms.fork), -1, np.int64)
    gone = np.zeros(len(arms.fork) // 2, np.bool_)
    start = np.searchsorted(arms.fork[order], np.arange(len(arms.place) + 1))
    for b in range(len(gone)):
        _bridged(arms, order, start, b, mate, gone)
    for v in range(len(arms.place)):
        here = order[start[v] : start[v + 1]]
        if len(here) == 3:
            _cornered(arms, here, mate, gone, tips)
        pairs = 0
        while len(here) > 1:
            best, one, two = -2.0, -1, -1
            for i in range(len(here)):
                for j in range(i + 1, len(here)):
                    a, c = here[i], here[j]
                    taken = mate[a] >= 0 or mate[c] >= 0 or gone[a // 2] or gone[c // 2]
                    if not taken and _straight(arms, a, c) > best + 1e-9:
                        best, one, two = _straight(arms, a, c), a, c
            if one < 0 or (pairs and best < SECOND):
                break
            mate[one], mate[two] = two, one
            pairs += 1
    return mate, gone, tips


@compiled
def _bridged(arms: Arms, order: Ints, start: Ints, b: int, mate: Ints, gone: Bools) -> None:
    """Arms paired across branch b where it is the middle of a crossing."""
    v, w = arms.fork[2 * b], arms.fork[2 * b + 1]
    if v == w or start[v + 1] - start[v] != 3 or start[w + 1] - start[w] != 3:
        return
    if arms.at[arms.offset[b + 1] - 1] > BRIDGE * max(arms.radius[v], arms.radius[w]):
        return
    ends = np.zeros(4, np.int64)
    held = 0
    for u in (v, w):
        for k in range(start[u], start[u + 1]):
            if order[k] // 2 != b:
                if held == 4 or mate[order[k]] >= 0 or gone[order[k] // 2]:
                    return
                ends[held] = order[k]
                held += 1
    if held < 4:
        return
    level = min(_straight(arms, ends[0], ends[2]), _straight(arms, ends[1], ends[3]))
    other = min(_straight(arms, ends[0], ends[3]), _straight(arms, ends[1], ends[2]))
    if max(level, other) < ACROSS:
        return
    if other > level + 1e-9:
        ends[2], ends[3] = ends[3], ends[2]
    for k in range(2):
        mate[ends[k]], mate[ends[k + 2]] = ends[k + 2], ends[k]
    gone[b] = True


@compiled
def _cornered(arms: Arms, here: Ints, mate: Ints, gone: Bools, tips: Ints) -> None:
    """Of three arms, two paired that meet at the tip of the third, which goes."""
    for k in range(3):
        tail, one, two = here[k], here[(k + 1) % 3], here[(k + 2) % 3]
        if one // 2 == two // 2 or mate[one] >= 0 or mate[two] >= 0 or gone[one // 2] or gone[two // 2]:
            continue
        length, r = arms.at[arms.offset[tail // 2 + 1] - 1], arms.radius[arms.fork[tail]]
        if not arms.free[tail ^ 1] or length > TAIL * r:
            continue
        if arms.way[one, 0] * arms.way[two, 0] + arms.way[one, 1] * arms.way[two, 1] < -0.2:
            continue
        met, x, y, _, _ = _meeting(arms, one, two, length)
        if met and _reached(arms, tail, x, y):
            mate[one], mate[two] = two, one
            gone[tail // 2] = True
            tips[one] = tips[two] = _blunt(arms, tail, min(radius_at(arms, one), radius_at(arms, two)))
            return


@compiled
def _blunt(arms: Arms, tail: int, r: float) -> int:
    """The last node of a tail that is about as wide as the strokes whose corner it is (r: their half-width)."""
    first, last = arms.offset[tail // 2], arms.offset[tail // 2 + 1] - 1
    at = arms.fork[tail]
    for k in range(last - first + 1):
        v = arms.node[first + k] if tail % 2 == 0 else arms.node[last - k]
        if arms.radius[v] < BLUNT * r:
            break
        at = v
    return at


@compiled
def _reached(arms: Arms, tail: int, x: float, y: float) -> bool:
    """Whether a place lies at a tail's tip or beyond it."""
    tip, fork = arms.fork[tail ^ 1], arms.fork[tail]
    dx, dy = x - arms.place[tip, 0], y - arms.place[tip, 1]
    tx, ty = arms.place[tip, 0] - arms.place[fork, 0], arms.place[tip, 1] - arms.place[fork, 1]
    far, size = np.hypot(dx, dy), np.hypot(tx, ty)
    beyond = dx * tx + dy * ty > 0.9 * far * size
    return far < NEAR * arms.radius[tip] or (beyond and far < TAIL * arms.radius[tip])


@compiled
def _meeting(arms: Arms, i: int, j: int, more: float) -> tuple[bool, float, float, float, float]:
    """Where the ways on of two arms cross: whether they do, the place, and mm along each."""
    far_i = arms.cut[i] + REACH * arms.radius[arms.fork[i]] + more
    far_j = arms.cut[j] + REACH * arms.radius[arms.fork[j]] + more
    ax, ay = ahead(arms, i, 0.0)
    for k in range(1, STEPS + 1):
        bx, by = ahead(arms, i, far_i * k / STEPS)
        cx, cy = ahead(arms, j, 0.0)
        for m in range(1, STEPS + 1):
            dx, dy = ahead(arms, j, far_j * m / STEPS)
            hit, s, t = _crossing(ax, ay, bx, by, cx, cy, dx, dy)
            if hit:
                mm_i, mm_j = far_i * (k - 1 + s) / STEPS, far_j * (m - 1 + t) / STEPS
                return True, ax + s * (bx - ax), ay + s * (by - ay), mm_i, mm_j
            cx, cy = dx, dy
        ax, ay = bx, by
    return False, 0.0, 0.0, 0.0, 0.0


@compiled
def _crossing(
    ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float
) -> tuple[bool, float, float]:
    """Whether segments a b and c d meet, and where along each, 0 to 1."""
    ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
    det = ux * vy - uy * vx
    if abs(det) < 1e-15:
        return False, 0.0, 0.0
    s = ((cx - ax) * vy - (cy - ay) * vx) / det
    t = ((cx - ax) * uy - (cy - ay) * ux) / det
    return -1e-9 <= s <= 1 + 1e-9 and -1e-9 <= t <= 1 + 1e-9, s, t


@compiled
def _pieces(arms: Arms, order: Ints, mate: Ints, gone: Bools, tips: Ints) -> tuple[Floats, Ints]:
    """(ends, MOST, 2) the places from where an arm was cut to its mate's, or to what it runs on to; (ends,) how many.

    Of two mates the first alone holds the piece.
    """
    piece, length = np.zeros((len(arms.fork), MOST, 2)), np.zeros(len(arms.fork), np.int64)
    for i in range(len(arms.fork)):
        if mate[i] > i:
            length[i] = _through(arms, i, mate[i], tips[i], piece[i])
    first = 0
    while first < len(order):
        last = first
        while last < len(order) and arms.fork[order[last]] == arms.fork[order[first]]:
            last += 1
        if last - first > 1:
            for k in range(first, last):
                i = order[k]
                if mate[i] < 0 and not gone[i // 2]:
                    length[i] = _onto(arms, i, order[first:last], mate, piece, length)
        first = last
    return piece, length


@compiled
def _through(arms: Arms, i: int, j: int, tip: int, out: Floats) -> int:
    """From arm i to arm j: a smooth curve, or the corner where their ways cross; both ends included."""
    bend = -(arms.way[i, 0] * arms.way[j, 0] + arms.way[i, 1] * arms.way[j, 1])
    if bend < SMOOTH:
        met, x, y, s, t = _meeting(arms, i, j, TAIL * arms.radius[arms.fork[i]])
        fork = arms.fork[i]
        most = SHARP * arms.radius[fork]
        if tip >= 0:  # the tip of the branch into the corner is known: no farther
            most = np.hypot(arms.place[tip, 0] - arms.place[fork, 0], arms.place[tip, 1] - arms.place[fork, 1])
            most += 0.1 * arms.radius[tip]
        dx, dy = x - arms.place[fork, 0], y - arms.place[fork, 1]
        if met and np.hypot(dx, dy) > most:
            hold = most / np.hypot(dx, dy)
            out[0], out[2] = arms.spot[i], arms.spot[j]
            out[1, 0], out[1, 1] = arms.place[fork, 0] + hold * dx, arms.place[fork, 1] + hold * dy
            return 3
        if met:
            n = 0
            for k in range(9):
                out[n, 0], out[n, 1] = ahead(arms, i, s * k / 9)
                n += 1
            out[n, 0], out[n, 1] = x, y
            n += 1
            for k in range(8, -1, -1):
                out[n, 0], out[n, 1] = ahead(arms, j, t * k / 9)
                n += 1
            return n
    ax, ay, bx, by = arms.spot[i, 0], arms.spot[i, 1], arms.spot[j, 0], arms.spot[j, 1]
    size = np.hypot(bx - ax, by - ay)
    ux, uy, vx, vy = size * arms.way[i, 0], size * arms.way[i, 1], -size * arms.way[j, 0], -size * arms.way[j, 1]
    for k in range(14):
        t = k / 13
        a, b, c, d = 2 * t**3 - 3 * t**2 + 1, t**3 - 2 * t**2 + t, 3 * t**2 - 2 * t**3, t**3 - t**2
        out[k, 0], out[k, 1] = a * ax + b * ux + c * bx + d * vx, a * ay + b * uy + c * by + d * vy
    return 14


@compiled
def _onto(arms: Arms, i: int, here: Ints, mate: Ints, piece: Floats, length: Ints) -> int:
    """From where arm i was cut, on to the first of the fork's other strokes that it meets, or comes nearest to."""
    far = arms.cut[i] + REACH * arms.radius[arms.fork[i]]
    best, least = np.inf, np.inf
    where, nx, ny = 0.0, arms.place[arms.fork[i], 0], arms.place[arms.fork[i], 1]
    for k in range(len(here)):
        if mate[here[k]] < 0:
            continue
        stroke = _stroke(arms, here[k], mate, piece, length)
        for n in range(1, len(stroke)):
            ax, ay, bx, by = stroke[n - 1, 0], stroke[n - 1, 1], stroke[n, 0], stroke[n, 1]
            cx, cy = ahead(arms, i, 0.0)
            for m in range(1, STEPS + 1):
                dx, dy = ahead(arms, i, far * m / STEPS)
                hit, s, _ = _crossing(cx, cy, dx, dy, ax, ay, bx, by)
                if hit:
                    best = min(best, far * (m - 1 + s) / STEPS)
                t = ((dx - ax) * (bx - ax) + (dy - ay) * (by - ay)) / max((bx - ax) ** 2 + (by - ay) ** 2, 1e-18)
                t = min(1.0, max(0.0, t))
                away = np.hypot(dx - ax - t * (bx - ax), dy - ay - t * (by - ay))
                if away < least - 1e-9:
                    least, where, nx, ny = away, far * m / STEPS, ax + t * (bx - ax), ay + t * (by - ay)
                cx, cy = dx, dy
    on = min(best, where)
    for n in range(9):
        piece[i, n, 0], piece[i, n, 1] = ahead(arms, i, on * n / 8)
    if best <= where:
        return 9
    piece[i, 9, 0], piece[i, 9, 1] = nx, ny
    return 10


@compiled
def _stroke(arms: Arms, end: int, mate: Ints, piece: Floats, length: Ints) -> Floats:
    """(n, 2) a stroke through a fork from a little before where arm `end` was cut, to where its mate was."""
    held = min(end, mate[end])
    out = np.zeros((length[held] + 4, 2))
    for k in range(4):
        out[k, 0], out[k, 1] = place_at(arms, end, arms.cut[end] + 0.4 * (4 - k) * arms.radius[arms.fork[end]])
    for k in range(length[held]):
        out[k + 4] = piece[held, k if held == end else length[held] - 1 - k]
    return out


@compiled
def _runs(arms: Arms, mate: Ints, gone: Bools, piece: Floats, length: Ints) -> tuple[Floats, Ints]:
    """(points, offsets) of the strokes: from free ends first, then what closes on itself."""
    used = gone.copy()
    out, cuts = np.zeros((len(arms.node) + 2 * length.sum() + 2 * len(length), 2)), np.zeros(len(used) + 1, np.int64)
    held = runs = 0
    for loops in range(2):
        for begin in range(len(mate)):
            if used[begin // 2] or (loops == 0 and mate[begin] >= 0):
                continue
            end = begin
            for k in range(length[end] - 1, -1, -1) if mate[end] < 0 else range(0):
                out[held] = piece[end, k]
                held += 1
            while end >= 0 and not used[end // 2]:
                used[end // 2] = True
                held = _along(arms, end, out, held)
                end = end ^ 1
                on = mate[end]
                source = end if on < 0 or end < on else on
                for k in range(length[source]):
                    out[held] = piece[source, k if source == end else length[source] - 1 - k]
                    held += 1
                end = on
            runs += 1
            cuts[runs] = held
    return out[:held], cuts[: runs + 1]


@compiled
def _along(arms: Arms, end: int, out: Floats, held: int) -> int:
    """A branch from one of its ends to the other, between where it was cut; how many points are held then."""
    first, last = arms.offset[end // 2], arms.offset[end // 2 + 1] - 1
    low, high = arms.cut[end], arms.at[last] - arms.cut[end ^ 1]
    out[held, 0], out[held, 1] = arms.spot[end, 0], arms.spot[end, 1]
    held += 1
    for k in range(last - first + 1):
        n = first + k if end % 2 == 0 else last - k
        mm = arms.at[n] if end % 2 == 0 else arms.at[last] - arms.at[n]
        if low < mm < high:
            out[held] = arms.place[arms.node[n]]
            held += 1
    out[held, 0], out[held, 1] = arms.spot[end ^ 1, 0], arms.spot[end ^ 1, 1]
    return held + 1
