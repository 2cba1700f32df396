"""Ordering figures on made hatch strokes: beside greedy, nearest neighbour, a proven bound and an outside solver.

Run as `python -m tests.bench.ordering`. The strokes are made up: a leaf's outline filled by parallel lines. The solver
(fast_tsp, test use only) orders the strokes' ends as points, both ends of a stroke tied together, for 20 s. The traced
strokes are those of a picture: there the greedy start leaves more to gain than in the dense rows of the leaf.
"""

import sys
import time

import fast_tsp
import numpy as np
from scipy.optimize import linear_sum_assignment

from engine.toolpath.ordering import Axes, hop_ticks, order
from tests.bench.art import traced_hatch

AXES = Axes(x_speed_mm_s=50.0, theta_speed_deg_s=180.0)
SOLVER_S = 20


def hatch(n):
    """About n horizontal strokes (n, 2, 2) inside lobes with holes, in mm and degrees."""
    rows = round(2.1 * np.sqrt(n))
    made = []
    for k, x in enumerate(np.linspace(-1, 1, rows)):
        theta = np.linspace(-1, 1, 40 * rows)
        swell = np.hypot(x, theta) + 0.25 * np.sin(9 * np.arctan2(x, theta) + 11 * x)
        inside = (swell < 0.9) & (np.sin(1.9 * np.sqrt(n) * theta + 7 * np.sin(13 * x)) > -0.55)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], inside.view(np.int8), [0]])))
        made += [
            ((x, theta[a]), (x, theta[min(b, len(theta)) - 1])) for a, b in edges.reshape(-1, 2) if b - a > 1 + k % 2
        ]
    return np.array(made) * (30.0, 120.0)


def nearest_neighbour_s(ends, reversible):
    """Seconds of the plainest rule from the end of the first stroke."""
    left, at, total = np.ones(len(ends), bool), ends[0, 1], 0
    left[0] = False
    for _ in range(len(ends) - 1):
        rest = np.flatnonzero(left)
        here = np.broadcast_to(at, (len(rest), 2))
        go, back = hop_ticks(here, ends[rest, 0], AXES), hop_ticks(here, ends[rest, 1], AXES)
        back = np.where(reversible[rest], back, np.iinfo(np.int64).max)
        k = int(np.minimum(go, back).argmin())
        at = ends[rest[k], 1] if go[k] <= back[k] else ends[rest[k], 0]
        left[rest[k]] = False
        total += int(min(go[k], back[k]))
    return total * AXES.tick_s


def assignment_bound_s(ends):
    """A proven least for strokes that only climb; the last row and column is before and after them all."""
    n = len(ends)
    square = np.zeros((n + 1, n + 1), np.int64)
    square[:n, :n] = [hop_ticks(np.repeat(spot[None], n, 0), ends[:, 0], AXES) for spot in ends[:, 1]]
    np.fill_diagonal(square, 10**12)
    return square[linear_sum_assignment(square)].sum() * AXES.tick_s


def solver_s(ends):
    """Seconds of the outside solver's tour through all strokes, either way; the first two places are nowhere."""
    spots = np.vstack([np.zeros((2, 2)), ends.reshape(-1, 2)])
    gap = np.abs(spots[:, None] - spots[None])
    gap[..., 1] = np.minimum(gap[..., 1], 360.0 - gap[..., 1])
    cost = np.maximum(gap[..., 0] / AXES.x_speed_mm_s, gap[..., 1] / AXES.theta_speed_deg_s)
    cost[:2] = cost[:, :2] = 0.0
    whole = np.rint((cost + 3.0) * (65000 / (cost.max() + 3.0))).astype(np.uint16)
    even = np.arange(0, len(spots), 2)
    whole[even, even + 1] = whole[even + 1, even] = 0
    np.fill_diagonal(whole, 0)
    tour = np.array(fast_tsp.find_tour(whole, duration_seconds=SOLVER_S))
    tour = np.roll(tour, -int(np.flatnonzero(tour == 0)[0]))
    tour = tour if tour[1] == 1 else np.roll(tour[::-1], 1)
    if not (tour[0::2] // 2 == tour[1::2] // 2).all():
        raise SystemExit("the solver parted a stroke's ends")
    return cost[tour[1::2], np.roll(tour[0::2], -1)].sum()


def tell(name, value):
    sys.stdout.write(f"{name:<58} {value:.4f}\n")
    sys.stdout.flush()


def timed(ends, free):
    start = time.process_time()
    found = order(ends, free, AXES)
    return found, time.process_time() - start


def main():
    """Print every figure."""
    few = hatch(1000)
    order(few, np.arange(len(few)) % 2 == 0, AXES)  # compile
    found, cpu = timed(few, np.ones(len(few), bool))
    tell(f"{len(few)} reversible, share of the greedy start", found.travel_s / found.start_travel_s)
    tell("  share of nearest neighbour", found.travel_s / nearest_neighbour_s(few, np.ones(len(few), bool)))
    tell(f"  share of the solver's {SOLVER_S} s", found.travel_s / solver_s(few))
    tell("  cpu s", cpu)
    found, cpu = timed(few, np.zeros(len(few), bool))
    tell(f"{len(few)} climbing, share of the assignment bound", found.travel_s / assignment_bound_s(few))
    some = hatch(3000)
    found, cpu = timed(some, np.ones(len(some), bool))
    tell(
        f"{len(some)} reversible, share of nearest neighbour",
        found.travel_s / nearest_neighbour_s(some, np.ones(len(some), bool)),
    )
    tell("  cpu s", cpu)
    for kind, many in (("made", hatch(20000)), ("traced", traced_hatch(20000))):
        for name, free in (("reversible", True), ("climbing", False)):
            found, cpu = timed(many, np.full(len(many), free))
            tell(f"{len(many)} {kind} {name}, share of the greedy start", found.travel_s / found.start_travel_s)
            tell("  cpu s", cpu)


if __name__ == "__main__":
    main()
