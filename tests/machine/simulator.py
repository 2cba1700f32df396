"""A controller in small steps of time: it shares no formula with the look-ahead and knows places, limits, corners.

At each tick it speeds up as the axes allow, unless it could then no longer brake for something ahead. What it may do at
a place is found by turning small steps of the way into axis units; braking ahead is summed over 400 pieces a move.
"""

import numpy as np


def simulate(places, r_mm, asked_s, speed, accel, corner_mm, *, tick_s=2e-4, pieces=400):
    """Seconds of each move, (n,). Arguments as `timing.look_ahead`; limits are tuples without None."""
    n = len(asked_s)
    u = np.arange(pieces + 1) / pieces
    way, vmax, amax, owner = [0.0], [], [], []
    for k in range(n):
        p = places[k] + (places[k + 1] - places[k]) * u[:, None]
        r = r_mm[k] + (r_mm[k + 1] - r_mm[k]) * u
        d = np.diff(p, axis=0)
        rm = (r[1:] + r[:-1]) / 2
        ds = np.sqrt(d[:, 0] ** 2 + d[:, 2] ** 2 + (np.radians(d[:, 1]) * rm) ** 2)
        per = np.abs(d) / ds[:, None]
        v = np.min(
            [np.where(per[:, j] > 1e-12, speed[j] / np.maximum(per[:, j], 1e-12), 1e9) for j in range(3)], axis=0
        )
        a = np.min(
            [np.where(per[:, j] > 1e-12, accel[j] / np.maximum(per[:, j], 1e-12), 1e9) for j in range(3)], axis=0
        )
        if not np.isnan(asked_s[k]):
            v = np.minimum(v, ds.sum() / asked_s[k])
        way += (way[-1] + np.cumsum(ds)).tolist()
        vmax += v.tolist()
        amax += a.tolist()
        owner += [k] * pieces
    way, vmax, amax, owner = map(np.array, (way, vmax, amax, owner))
    ceiling = np.full(len(way), 1e9)  # greatest speed at each node
    ceiling[:-1] = vmax
    ceiling[1:] = np.minimum(ceiling[1:], vmax)
    ceiling[0] = ceiling[-1] = 0.0
    for k in range(1, n):
        legs = []
        for a_, b_ in ((k - 1, k), (k, k + 1)):
            d = places[b_] - places[a_]
            e = np.array([d[0], np.radians(d[1]) * r_mm[k], d[2]])
            legs.append(e / np.linalg.norm(e))
        between = np.pi - np.arccos(np.clip(legs[0] @ legs[1], -1, 1))  # angle between the legs
        if np.pi - between < 1e-6:
            continue
        s = np.sin(between / 2)
        bend = legs[1] - legs[0]
        bend = np.abs(bend / np.linalg.norm(bend))
        bend[1] *= np.degrees(1) / r_mm[k]
        pull = min(accel[j] / bend[j] for j in range(3) if bend[j] > 1e-12)
        ceiling[k * pieces] = min(ceiling[k * pieces], np.sqrt(pull * corner_mm * s / (1 - s)))
    for j in range(len(way) - 2, -1, -1):  # what one may have and still brake
        ceiling[j] = min(ceiling[j], np.sqrt(ceiling[j + 1] ** 2 + 2 * amax[j] * (way[j + 1] - way[j])))
    at, v, seconds = 0.0, 0.0, np.zeros(n)
    j = 0
    while at < way[-1] - 1e-7:
        while j < len(amax) - 1 and at >= way[j + 1]:
            j += 1
        f = (at - way[j]) / (way[j + 1] - way[j])
        top = np.sqrt(max((1 - f) * ceiling[j] ** 2 + f * ceiling[j + 1] ** 2, 0.0))
        nxt = min(v + amax[j] * tick_s, max(top, amax[j] * tick_s * 0.5), vmax[j])
        at += 0.5 * (v + nxt) * tick_s
        v = nxt
        seconds[owner[j]] += tick_s
    return seconds
