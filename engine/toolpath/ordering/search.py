"""Local search with neighbour lists and a work queue, then double-bridge kicks undone unless no worse.

Sources: G. A. Croes, Oper. Res. 6 (1958) 791-812 (2-opt); I. Or, PhD thesis, Northwestern Univ. (1976); S. Lin, Bell
Syst. Tech. J. 44 (1965) 2245-2269 and P. C. Kanellakis, C. H. Papadimitriou, Oper. Res. 28 (1980) 1086-1099 (or-3opt);
O. Martin, S. W. Otto, E. W. Felten, Complex Systems 5 (1991) 299-326 (kicks).
"""

import numpy as np

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.costs import hop, tour_ticks
from engine.toolpath.ordering.tour import all_reversible, draw, flip, note, step, swap
from engine.toolpath.ordering.types import Array, Law

__all__ = ["search"]

KICK_RUN = 50  # longest run swapped by a kick (positions)
STRIDE = 0.6180339887498949  # of the ring, from kick to kick: the golden section leaves no part of it out
RUN = 3  # longest Or-opt run
BREADTH = 5  # candidates tried for the third hop of or-3opt
WORTH = 5000  # a round of kicks, one a stroke, that gains less than this part of the travel is the last
LEAST_ROUND = 300  # kicks
JOURNAL = 4096  # changes after a kick; one that draws more after it stays, whatever it gains


@compiled
def _best_move(
    place: Array,
    law: Law,
    near: Array,
    cost: Array,
    free: Array,
    all_free: bool,
    tour: Array,
    at: Array,
    link: Array,
    took: Array,
    c: int,
    move: Array,
) -> int:
    """Best move about stroke c: fills `move` (see `_make`) and returns its gain, 0 where there is none.

    `side` +1 looks at the hop out of c, -1 at the hop into c; in the mirror every "next" is a "previous". Each move
    drops the hop (p, e) between c and its neighbour s, and adds (p, q) for a candidate q with a cheaper hop. A hop to
    be added is reckoned only while what the move drops is worth more than what it adds so far and the best gain.
    """
    n = tour.size
    best = 0
    for mirror in range(2):
        side = 1 - 2 * mirror
        ic = at[c]
        p = tour[ic] ^ (1 - mirror)
        e = link[p]
        s = e >> 1
        js = at[s]
        dropped = took[p]
        for kk in range(near.shape[1]):
            q = near[p, kk]
            if q < 0 or cost[p, kk] >= dropped:
                break
            b = q >> 1
            ib = at[b]
            far = q == tour[ib] ^ (1 - mirror)  # q is b's end on the far side, seen from c
            pr = link[q]
            room = dropped - cost[p, kk] + took[q]
            if far and room > best:
                # 2-opt: reverse s..b
                gain = room - hop(place, law, e, pr)
                if gain > best:
                    i, j = (js, ib) if mirror == 0 else (ib, js)
                    count = j - i + 1
                    if count <= 0:
                        count += n
                    if (
                        all_free
                        or all_reversible(tour, free, i, count)
                        or all_reversible(tour, free, (j + 1) % n, n - count)
                    ):
                        best = gain
                        move[0], move[1], move[2], move[3] = 1, i, count, 0
                        move[4], move[5], move[6], move[7], move[8], move[9] = p, e, q, pr, p, e
            if b == s:
                continue
            # Or-opt: the run of b and up to RUN strokes beyond it, away from q, goes between c and s
            r = q ^ 1
            for length in range(1, RUN + 1):
                if r >> 1 == c or r >> 1 == s or (far and not all_free and not free[r >> 1]):
                    break
                o = link[r]
                if pr >> 1 == o >> 1:
                    break
                gain = room + took[r]
                if gain > best:
                    gain -= hop(place, law, r, e)
                if gain > best:
                    gain -= hop(place, law, pr, o)
                if gain > best:
                    best = gain
                    move[0], move[1], move[2], move[3] = (
                        (3 if far else 2),
                        (ib if far == (mirror == 1) else at[r >> 1]),
                        length,
                        (ic if mirror == 0 else js),
                    )
                    move[4], move[5], move[6], move[7], move[8], move[9] = p, e, q, r, o, pr
                r = o ^ 1
            if far:
                continue
            # or-3opt: c | A = s..pr | B = b..y | z..  becomes  c B A z, all forwards
            to_b = (ib - js) * side
            if to_b < 0:
                to_b += n
            for mm in range(min(near.shape[1], BREADTH)):
                z = near[pr, mm]
                if z < 0 or cost[pr, mm] >= room:
                    break
                gain = room - cost[pr, mm] + took[z]
                if gain <= best:
                    continue
                iz = at[z >> 1]
                to_z = (iz - js) * side
                if to_z < 0:
                    to_z += n
                if z != tour[iz] ^ mirror or to_z <= to_b:
                    continue
                y = link[z]
                gain -= hop(place, law, y, e)
                if gain > best:
                    best = gain
                    # the ring is A, B, rest with side +1, and B, A, rest in rising positions with -1
                    if mirror == 0:
                        move[0], move[1], move[2], move[3] = 4, js, to_b, to_z - to_b
                    else:
                        move[0], move[1], move[2], move[3] = 4, (iz + 1) % n, to_z - to_b, to_b
                    move[4], move[5], move[6], move[7], move[8], move[9] = p, e, q, pr, y, z
    return best


@compiled
def _meet(place: Array, law: Law, tour: Array, at: Array, link: Array, took: Array, ends: Array, count: int) -> None:
    """Note for the first `count` of some ends which end each meets now, and what the hop between the two takes.

    Once for all hops of a change: a compiled call counts each array that it is given in and out, and that takes longer
    than a hop.
    """
    n = tour.size
    for k in range(count):
        a = ends[k]
        i = at[a >> 1]
        b = tour[step(i, -1, n)] ^ 1 if tour[i] == a else tour[step(i, 1, n)]
        if link[a] != b or link[b] != a:
            link[a] = b
            link[b] = a
            took[a] = took[b] = hop(place, law, a, b)


@compiled
def _make(tour: Array, at: Array, move: Array, log: Array, spare: Array) -> None:
    """Make a move.

    move[0]: 1 flip (start, count); 2, 3 put the run (first, length) after a position, 3 turned; 4 swap (start, left,
    right). move[4:] : the ends of the hops that it drops, which are those of the hops that it adds.
    """
    n = tour.size
    if move[0] == 1:
        start, count = move[1], move[2]
        if 2 * count > n:
            start, count = (start + count) % n, n - count
        flip(tour, at, start, count)
        note(log, start, count, -1)
    elif move[0] == 4:
        start, left, right = move[1], move[2], move[3]
        rest = n - left - right  # of three runs in a ring, any two may change places: leave the longest
        if left >= right and left > rest:
            start, left, right = (start + left) % n, right, rest
        elif right > left and right > rest:
            start, left, right = (start + left + right) % n, rest, left
        swap(tour, at, start, left, right, spare)
        note(log, start, left, right)
    else:
        first, length, before = move[1], move[2], move[3]
        ahead = before - (first + length - 1)
        if ahead < 0:
            ahead += n
        behind = first - (before + 1)
        if behind < 0:
            behind += n
        if ahead <= behind:
            start, left, right, now = first, length, ahead, (first + ahead) % n
        else:
            start, left, right, now = (before + 1) % n, behind, length, (before + 1) % n
        swap(tour, at, start, left, right, spare)
        note(log, start, left, right)
        if move[0] == 3:
            flip(tour, at, now, length)
            note(log, now, length, -1)


@compiled
def _settle(
    place: Array,
    law: Law,
    near: Array,
    cost: Array,
    free: Array,
    all_free: bool,
    tour: Array,
    at: Array,
    link: Array,
    took: Array,
    queue: Array,
    queued: Array,
    count: int,
    log: Array,
    spare: Array,
    move: Array,
) -> int:
    """Work off the queue of strokes worth a look (don't-look bits); returns the gain."""
    n = tour.size
    head = 0
    total = 0
    while count > 0:
        c = queue[head]
        head = step(head, 1, n)
        count -= 1
        queued[c] = False
        while True:
            gain = _best_move(place, law, near, cost, free, all_free, tour, at, link, took, c, move)
            if gain <= 0:
                break
            _make(tour, at, move, log, spare)
            _meet(place, law, tour, at, link, took, move[4:], 6)
            total += gain
            for k in range(4, 10):
                v = move[k] >> 1
                if not queued[v]:
                    queued[v] = True
                    queue[(head + count) % n] = v
                    count += 1
    return total


@compiled
def _kick(tour: Array, at: Array, cuts: Array, made: int, seed: Array, log: Array, spare: Array) -> None:
    """A double bridge at the next place of the ring: three runs after one stroke, B C D, become D C B.

    Fills `cuts` with the ends of the four hops that it drops and adds; no move above undoes it at once.
    """
    n = tour.size
    longest = min(KICK_RUN, (n - 1) // 3)
    here = int(made * STRIDE % 1.0 * n)
    l1 = 1 + draw(seed, longest)
    l2 = 1 + draw(seed, longest)
    l3 = 1 + draw(seed, longest)
    for k, last in enumerate((here, here + l1, here + l1 + l2, here + l1 + l2 + l3)):
        cuts[2 * k] = tour[last % n] ^ 1
        cuts[2 * k + 1] = tour[(last + 1) % n]
    start = (here + 1) % n
    log[0, 0] = 0
    swap(tour, at, start, l1, l2 + l3, spare)
    note(log, start, l1, l2 + l3)
    swap(tour, at, start, l2, l3, spare)
    note(log, start, l2, l3)


@compiled
def _undo(tour: Array, at: Array, log: Array, spare: Array, moved: Array) -> int:
    """Take back all that the journal holds; `moved` gets an end of every hop that is another now. Returns how many."""
    n = tour.size
    count = 0
    for m in range(log[0, 0], 0, -1):
        start, left, right = log[m, 0], log[m, 1], log[m, 2]
        if right < 0:
            flip(tour, at, start, left)
        else:
            swap(tour, at, start, right, left, spare)
            moved[count] = tour[(start + left + right) % n]
            count += 1
        moved[count] = tour[start]
        moved[count + 1] = tour[(start + left) % n]
        count += 2
    return count


@compiled
def search(place: Array, law: Law, near: Array, cost: Array, free: Array, tour: Array, kicks: int, seed: Array) -> int:
    """Descend from `tour` (in place), then kick while it pays; the depot is the last stroke. Returns kicks made."""
    n = tour.size
    all_free = bool(free[: n - 1].all())
    queue = (tour >> 1).astype(np.int32)
    queued = np.ones(n, np.bool_)
    at = np.zeros(n, np.int32)
    for i in range(n):
        at[queue[i]] = i
    link = np.full(2 * n, -1, np.int32)  # the end that each end hops to or from
    took = np.zeros(2 * n, np.int64)  # ticks of that hop
    _meet(place, law, tour, at, link, took, tour, n)
    log = np.zeros((JOURNAL + 1, 3), np.int32)
    moved = np.zeros(3 * JOURNAL, np.int32)
    spare = np.zeros(n // 2 + 1, np.int32)
    move, cuts = np.zeros(10, np.int64), np.zeros(8, np.int64)
    log[0, 0] = -1
    _settle(place, law, near, cost, free, all_free, tour, at, link, took, queue, queued, n, log, spare, move)
    if n < 5:
        return 0
    worth = tour_ticks(place, law, tour) // WORTH
    round_ = max(n, LEAST_ROUND)
    gained = 0
    for made in range(kicks):
        if made % round_ == round_ - 1:
            if gained < worth:
                return made
            gained = 0
        _kick(tour, at, cuts, made, seed, log, spare)
        gain = 0
        for end in cuts[::2]:
            gain += took[end]
        _meet(place, law, tour, at, link, took, cuts, 8)
        for end in cuts[::2]:
            gain -= took[end]
        count = 0
        for end in cuts:
            if not queued[end >> 1]:
                queued[end >> 1] = True
                queue[count] = end >> 1
                count += 1
        gain += _settle(
            place, law, near, cost, free, all_free, tour, at, link, took, queue, queued, count, log, spare, move
        )
        if gain < 0 and log[0, 0] <= JOURNAL:
            count = _undo(tour, at, log, spare, moved)
            _meet(place, law, tour, at, link, took, moved, count)
        else:
            gained += gain
    return kicks
