"""The dense search: the whole form of the tool looked over, where more than one contact is possible.

Rings of feet on the skin are looked at from the middle outwards; the best of each of eight sectors is kept, and the
three best of these are polished by ever smaller steps. It knows the flank and the shank, and any number of
hollows and bumps wider than a ring's step. The frame and the depth are those of `contact`.
"""

import math

import numpy as np

from engine.blank import Frame, spline_at
from engine.kernel.arrays import Floats
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD
from engine.toolpath.contact import over_place, seen_from

__all__ = ["NOWHERE", "Form4", "dense_contact"]

Form4 = tuple[float, float, float, float]  # flat, rounding, rise of the flank (inf: none), outer radius; mm

NOWHERE = -1e300  # height where the blank has no surface
_OFF = -1e299
_POLISHED = 3
_FINE = 2e-3  # of the tool's radius: at a smooth top the height is then wrong by the square of it


@compiled
def _gain(
    C: Floats,
    frame: Frame,
    place: tuple[float, float, float],
    form: Form4,
    rho: float,
    phi: float,
    foot: tuple[float, float],
) -> tuple[float, tuple[float, float]]:
    """What the tip's z may not be below, for the place (rho, phi) under the tool; and the foot there."""
    x, th, depth = place
    flat, rounded, flank, _ = form
    inside = rounded - depth  # a ball sunk less than its radius: the ball at depth 0 inside, of radius R - d
    raised = 0.0 if inside > 0.0 else -depth
    height, foot_x, foot_th, settled = over_place(
        C, frame, raised, x, th, rho * math.cos(phi), rho * math.sin(phi), foot[0], foot[1]
    )
    foot = (foot_x, foot_th)
    if not settled or foot_x < frame[0] - 1e-9 or foot_x > frame[1] + 1e-9:
        return NOWHERE, foot
    if inside > 0.0:
        return height + math.sqrt(max(inside * inside - rho * rho, 0.0)) - rounded, foot
    if rounded > 0.0:
        return height - rounded + math.sqrt(max(rounded * rounded - rho * rho, 0.0)), foot
    if rho > flat:
        return height - (rho - flat) * flank, foot
    return height, foot


@compiled
def _rings(
    C: Floats, frame: Frame, place: tuple[float, float, float], form: Form4, top: float, n: int, best: Floats
) -> None:
    """Fill best (9, 5): z, rho, phi, foot_x, foot_th of the best place in each of 8 sectors, and of the middle.

    Rings of feet on the skin, not of places under the tool: each is one look, with nothing to solve.
    """
    x, th, depth = place
    flat, rounded, flank, _ = form
    inside = rounded - depth
    raised = 0.0 if inside > 0.0 else -depth
    best[:, 0] = NOWHERE
    z, foot = _gain(C, frame, place, form, 0.0, 0.0, (x, th))
    best[8, 0], best[8, 3], best[8, 4] = z, foot[0], foot[1]
    if z < _OFF:
        foot = (x, th)
    around = 1.0 / spline_at(C, frame, foot[0], foot[1])[0]
    for k in range(1, n + 2):  # one more than the tool is wide: on a lean the feet lie aside
        far = top * k / n
        m = 8 * math.ceil(max(TURN_RAD * k, 8.0) / 8.0)
        for q in range(m):
            phi = TURN_RAD * q / m
            foot_x = foot[0] + far * math.cos(phi)
            if foot_x < frame[0] or foot_x > frame[1]:
                continue
            foot_th = foot[1] + far * math.sin(phi) * around
            Vx, Vy, Vh, _, _, _, _ = seen_from(C, frame, raised, foot_x, foot_th, th)
            rho = math.hypot(Vx - x, Vy)
            if rho > top:
                continue
            if rounded > 0.0:
                ball = inside if inside > 0.0 else rounded
                Vh += math.sqrt(max(ball * ball - rho * rho, 0.0)) - rounded
            elif rho > flat:
                Vh -= (rho - flat) * flank
            s = q * 8 // m
            if best[s, 0] < Vh:
                best[s, 0], best[s, 1], best[s, 2] = Vh, rho, math.atan2(Vy, Vx - x)
                best[s, 3], best[s, 4] = foot_x, foot_th


@compiled
def _polish(
    C: Floats, frame: Frame, place: tuple[float, float, float], form: Form4, top: float, step: float, start: Floats
) -> float:
    """Climb from start (z, rho, phi, foot_x, foot_th) by steps that halve down to _FINE of the tool's radius."""
    z = start[0]
    rho = start[1]
    phi = start[2]
    foot = (start[3], start[4])
    edge = form[0] if not math.isinf(form[2]) else -1.0  # a step across a cone's rim stops on it
    hr = 0.5 * step
    hp = 0.5 * step / max(rho, step) if rho > 0.0 else 0.7
    while hr > _FINE * max(top, 0.05):
        moved = False
        for c in range(4):
            near = rho
            turn = phi
            if c == 0:
                near = min(rho + hr, top)
            elif c == 1:
                near = max(rho - hr, 0.0)
            else:
                turn = phi + (hp if c == 2 else -hp)
            if min(near, rho) < edge < max(near, rho):
                near = edge
            w, new_foot = _gain(C, frame, place, form, near, turn, foot)
            if w > z + 1e-10:
                z = w
                rho = near
                phi = turn
                foot = new_foot
                moved = True
        if not moved:
            hr *= 0.5
            hp *= 0.5
    return z


@compiled
def dense_contact(C: Floats, frame: Frame, x: float, th: float, depth: float, form: Form4, step: float) -> float:
    """Tip's distance from the axis, mm, by the whole form; NOWHERE where no surface lies under the tool.

    step : mm between rings and between the places of a ring.
    """
    place = (x, th, depth)
    inside = form[1] - depth
    top = inside if inside > 0.0 else form[3]
    n = max(2, math.ceil(top / step))
    best = np.zeros((9, 5))
    _rings(C, frame, place, form, top, n, best)
    lead = best[:, 0].max()
    z = lead
    for _ in range(_POLISHED):
        s = np.argmax(best[:, 0])
        if best[s, 0] < lead - 1.5 * top / n or best[s, 0] < _OFF:
            break
        z = max(z, _polish(C, frame, place, form, top, top / n, best[s].copy()))
        best[s, 0] = NOWHERE
    return z
