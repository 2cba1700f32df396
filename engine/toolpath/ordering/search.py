"""Local search with neighbour lists and a work queue, then double-bridge kicks undone unless no worse.

Sources: G. A. Croes, Oper. Res. 6 (1958) 791-812 (2-opt); I. Or, PhD thesis, Northwestern Univ. (1976); S. Lin, Bell
Syst. Tech. J. 44 (1965) 2245-2269 and P. C. Kanellakis, C. H. Papadimitriou, Oper. Res. 28 (1980) 1086-1099 (or-3opt);
O. Martin, S. W. Otto, E. W. Felten, Complex Systems 5 (1991) 299-326 (kicks).
"""

import numpy as np

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.costs import known_hop, tour_ticks
from engine.toolpath.ordering.tour import all_reversible, draw, flip, note, step, swap
from engine.toolpath.ordering.types import Array, Law

__all__ = ["search"]

KICK_RUN = 50  # longest run swapped by a kick (positions)
STRIDE = 0.6180339887498949  # of the ring, from kick to kick: the golden section leaves no part of it out
RUN = 3  # longest Or-opt run
BREADTH = 5  # candidates tried for the third hop of or-3opt
WORTH = 5000  # a round of kicks, one a stroke, that gains less than this part of the travel is the last
LEAST_ROUND = 300  # kicks


@compiled
def _best_move(
    known: Array,
    place: Array,
    law: Law,
    near: Array,
    cost: Array,
    free: Array,
    all_free: bool,
    tour: Array,
    at: Array,
    c: int,
    move: Array,
) -> int:
    """Best move about stroke c: fills `move` (see `_make`) and returns its gain, 0 where there is none.

    `side` +1 looks at the hop out of c, -1 at the hop into c; in the mirror every "next" is a "previous". Each move
    drops the hop (p, e) between c and its neighbour s, and adds (p, q) for a candidate q with a cheaper hop.
    """
    n = tour.size
    best = 0
    for mirror in range(2):
        side = 1 - 2 * mirror
        ic = at[c]
        js = step(ic, side, n)
        p = tour[ic] ^ (1 - mirror)
        e = tour[js] ^ mirror
        s = e >> 1
        dropped = known_hop(known, place, law, p, e)
        for kk in range(near.shape[1]):
            q = near[p, kk]
            if q < 0 or cost[p, kk] >= dropped:
                break
            room = dropped - cost[p, kk]
            b = q >> 1
            ib = at[b]
            far = q == tour[ib] ^ (1 - mirror)  # q is b's end on the far side, seen from c
            if far:
                # 2-opt: reverse s..b
                io = step(ib, side, n)
                o = tour[io] ^ mirror
                gain = room + known_hop(known, place, law, q, o) - known_hop(known, place, law, e, o)
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
                        move[4], move[5], move[6], move[7], move[8], move[9] = c, s, b, o >> 1, c, s
            if b == s:
                continue
            # Or-opt: the run of b and up to RUN strokes beyond it, away from q, goes between c and s
            onward = -side if far else side
            way = 1 if onward == 1 else 0
            pr = tour[step(ib, -onward, n)] ^ way
            room += known_hop(known, place, law, pr, q)
            il = ib
            for length in range(1, RUN + 1):
                last = tour[il]
                if last >> 1 == c or last >> 1 == s or (far and not all_free and not free[last >> 1]):
                    break
                io = step(il, onward, n)
                r = last ^ way
                o = tour[io] ^ (1 - way)
                if pr >> 1 == o >> 1:
                    break
                gain = (
                    room
                    + known_hop(known, place, law, r, o)
                    - known_hop(known, place, law, r, e)
                    - known_hop(known, place, law, pr, o)
                )
                if gain > best:
                    best = gain
                    move[0], move[1], move[2], move[3] = (
                        (3 if far else 2),
                        (ib if onward == 1 else il),
                        length,
                        (ic if mirror == 0 else js),
                    )
                    move[4], move[5], move[6], move[7], move[8], move[9] = c, s, b, r >> 1, o >> 1, pr >> 1
                il = io
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
                iz = at[z >> 1]
                to_z = (iz - js) * side
                if to_z < 0:
                    to_z += n
                if z != tour[iz] ^ mirror or to_z <= to_b:
                    continue
                y = tour[step(iz, -side, n)] ^ (1 - mirror)
                gain = room - cost[pr, mm] + known_hop(known, place, law, y, z) - known_hop(known, place, law, y, e)
                if gain > best:
                    best = gain
                    # the ring is A, B, rest with side +1, and B, A, rest in rising positions with -1
                    if mirror == 0:
                        move[0], move[1], move[2], move[3] = 4, js, to_b, to_z - to_b
                    else:
                        move[0], move[1], move[2], move[3] = 4, (iz + 1) % n, to_z - to_b, to_b
                    move[4], move[5], move[6], move[7], move[8], move[9] = c, s, b, pr >> 1, y >> 1, z >> 1
    return best


@compiled
def _make(tour: Array, at: Array, move: Array, log: Array, logged: Array, spare: Array) -> None:
    """Make a move.

    move[0]: 1 flip (start, count); 2, 3 put the run (first, length) after a position, 3 turned; 4 swap (start, left,
    right).
    """
    n = tour.size
    if move[0] == 1:
        start, count = move[1], move[2]
        if 2 * count > n:
            start, count = (start + count) % n, n - count
        flip(tour, at, start, count)
        note(log, logged, start, count, -1)
    elif move[0] == 4:
        start, left, right = move[1], move[2], move[3]
        rest = n - left - right  # of three runs in a ring, any two may change places: leave the longest
        if left >= right and left > rest:
            start, left, right = (start + left) % n, right, rest
        elif right > left and right > rest:
            start, left, right = (start + left + right) % n, rest, left
        swap(tour, at, start, left, right, spare)
        note(log, logged, start, left, right)
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
        note(log, logged, start, left, right)
        if move[0] == 3:
            flip(tour, at, now, length)
            note(log, logged, now, length, -1)


@compiled
def _settle(
    known: Array,
    place: Array,
    law: Law,
    near: Array,
    cost: Array,
    free: Array,
    all_free: bool,
    tour: Array,
    at: Array,
    queue: Array,
    queued: Array,
    count: int,
    log: Array,
    logged: Array,
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
            gain = _best_move(known, place, law, near, cost, free, all_free, tour, at, c, move)
            if gain <= 0:
                break
            _make(tour, at, move, log, logged, spare)
            total += gain
            for k in range(4, 10):
                v = move[k]
                if not queued[v]:
                    queued[v] = True
                    queue[(head + count) % n] = v
                    count += 1
    return total


@compiled
def search(
    known: Array, place: Array, law: Law, near: Array, cost: Array, free: Array, tour: Array, kicks: int, seed: Array
) -> int:
    """Descend from `tour` (in place), then kick while it pays; the depot is the last stroke. Returns kicks made.

    known : `all_hops`, or (0, 0) where each hop is to be reckoned when it is asked for.
    """
    n = tour.size
    all_free = True
    for i in range(n - 1):
        if not free[i]:
            all_free = False
    at = np.zeros(n, np.int32)
    for i in range(n):
        at[tour[i] >> 1] = i
    queue = np.zeros(n, np.int32)
    queued = np.zeros(n, np.bool_)
    log = np.zeros((4096, 3), np.int32)
    logged = np.zeros(1, np.int64)
    spare = np.zeros(n // 2 + 1, np.int32)
    move = np.zeros(10, np.int64)
    logged[0] = -1
    for i in range(n):
        queue[i] = tour[i] >> 1
        queued[i] = True
    _settle(known, place, law, near, cost, free, all_free, tour, at, queue, queued, n, log, logged, spare, move)
    if n < 5:
        return 0
    worth = tour_ticks(place, law, tour) // WORTH
    round_ = max(n, LEAST_ROUND)
    gained = 0
    longest = min(KICK_RUN, (n - 1) // 3)
    cuts = np.zeros(8, np.int64)
    for made in range(kicks):
        if made % round_ == round_ - 1:
            if gained < worth:
                return made
            gained = 0
        # double bridge: three runs after stroke i0, B C D, become D C B: four hops, which no move above undoes at once
        i0 = int(made * STRIDE % 1.0 * n)
        l1 = 1 + draw(seed, longest)
        l2 = 1 + draw(seed, longest)
        l3 = 1 + draw(seed, longest)
        start = (i0 + 1) % n
        cuts[0], cuts[1] = tour[i0], tour[start]
        cuts[2], cuts[3] = tour[(i0 + l1) % n], tour[(start + l1) % n]
        cuts[4], cuts[5] = tour[(i0 + l1 + l2) % n], tour[(start + l1 + l2) % n]
        cuts[6], cuts[7] = tour[(i0 + l1 + l2 + l3) % n], tour[(start + l1 + l2 + l3) % n]
        loss = (
            known_hop(known, place, law, cuts[0] ^ 1, cuts[5])
            + known_hop(known, place, law, cuts[6] ^ 1, cuts[3])
            + known_hop(known, place, law, cuts[4] ^ 1, cuts[1])
            + known_hop(known, place, law, cuts[2] ^ 1, cuts[7])
        )
        for k in range(0, 8, 2):
            loss -= known_hop(known, place, law, cuts[k] ^ 1, cuts[k + 1])
        logged[0] = 0
        swap(tour, at, start, l1, l2 + l3, spare)
        note(log, logged, start, l1, l2 + l3)
        swap(tour, at, start, l2, l3, spare)
        note(log, logged, start, l2, l3)
        count = 0
        for k in range(8):
            v = cuts[k] >> 1
            if not queued[v]:
                queued[v] = True
                queue[count] = v
                count += 1
        gain = _settle(
            known, place, law, near, cost, free, all_free, tour, at, queue, queued, count, log, logged, spare, move
        )
        if gain < loss and logged[0] <= log.shape[0]:
            for m in range(logged[0] - 1, -1, -1):
                if log[m, 2] < 0:
                    flip(tour, at, log[m, 0], log[m, 1])
                else:
                    swap(tour, at, log[m, 0], log[m, 2], log[m, 1], spare)
        else:
            gained += gain - loss
    return kicks
