"""The tour as an array of entry ends: runs reversed and exchanged in place, each change its own inverse.

Entry end e of stroke e >> 1; e ^ 1 is its other end. Random numbers: G. Marsaglia, J. Stat. Softw. 8/14 (2003).
"""

import numpy as np

from engine.kernel.compiled import compiled
from engine.toolpath.ordering.types import Array

__all__ = ["all_reversible", "draw", "flip", "note", "step", "swap"]


@compiled
def draw(state: Array, below: int) -> int:
    """Next xorshift64 number in [0, below)."""
    x = state[0]
    x ^= x << np.uint64(13)
    x ^= x >> np.uint64(7)
    x ^= x << np.uint64(17)
    state[0] = x
    return int((x >> np.uint64(11)) % np.uint64(below))


@compiled
def flip(tour: Array, at: Array, start: int, count: int) -> None:
    """Reverse the cyclic run of `count` positions from `start`. Its own inverse."""
    n = tour.size
    i = start
    j = start + count - 1
    if j >= n:
        j -= n
    for _ in range(count // 2):
        a = tour[i]
        b = tour[j]
        tour[i] = b ^ 1
        tour[j] = a ^ 1
        at[b >> 1] = i
        at[a >> 1] = j
        i += 1
        if i == n:
            i = 0
        j -= 1
        if j < 0:
            j = n - 1
    if count & 1:
        tour[i] ^= 1


@compiled
def swap(tour: Array, at: Array, start: int, left: int, right: int, spare: Array) -> None:
    """Exchange two adjacent runs of `left` and `right` positions from `start`; inverse: same start, right, left."""
    n = tour.size
    if left <= right:
        for q in range(left):
            spare[q] = tour[(start + q) % n]
        src = (start + left) % n
        dst = start
        for _ in range(right):
            v = tour[src]
            tour[dst] = v
            at[v >> 1] = dst
            src += 1
            if src == n:
                src = 0
            dst += 1
            if dst == n:
                dst = 0
        for q in range(left):
            v = spare[q]
            tour[dst] = v
            at[v >> 1] = dst
            dst += 1
            if dst == n:
                dst = 0
    else:
        for q in range(right):
            spare[q] = tour[(start + left + q) % n]
        src = (start + left - 1) % n
        dst = (start + left + right - 1) % n
        for _ in range(left):
            v = tour[src]
            tour[dst] = v
            at[v >> 1] = dst
            src -= 1
            if src < 0:
                src = n - 1
            dst -= 1
            if dst < 0:
                dst = n - 1
        for q in range(right - 1, -1, -1):
            v = spare[q]
            tour[dst] = v
            at[v >> 1] = dst
            dst -= 1
            if dst < 0:
                dst = n - 1


@compiled
def note(log: Array, start: int, left: int, right: int) -> None:
    """Write a change into the journal, while it has room; right -1 marks a flip.

    log : row 0 begins with how many changes there were, -1 while none are to be written; from row 1 on they follow.
    """
    if log[0, 0] >= 0:
        log[0, 0] += 1
        if log[0, 0] < log.shape[0]:
            log[log[0, 0], 0] = start
            log[log[0, 0], 1] = left
            log[log[0, 0], 2] = right


@compiled
def all_reversible(tour: Array, free: Array, start: int, count: int) -> bool:
    """Whether every stroke of a cyclic run may be cut from either end."""
    n = tour.size
    i = start
    for _ in range(count):
        if not free[tour[i] >> 1]:
            return False
        i += 1
        if i == n:
            i = 0
    return True


@compiled
def step(i: int, by: int, n: int) -> int:
    """Position i moved by +1 or -1 around the ring."""
    i += by
    return 0 if i == n else (n - 1 if i < 0 else i)
