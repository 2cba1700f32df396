"""Where to look and how finely: the window of cells round the cut, its uncut radii, and depths along the normal.

Takes the skin, the tool and what of the blank the tip came near; gives `Carved`. A cell is the ray at (x, theta); its
depth is the distance of the carved surface there from the skin, along the skin's normal.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.blank import Sampled, Skin, sample
from engine.kernel.arrays import Floats, frozen_floats, locked
from engine.kernel.compiled import compiled
from engine.kernel.units import TURN_RAD
from engine.kernel.values import Tool
from engine.proof.carve import Work, carve, work_of
from engine.proof.carve_pieces import Frame
from engine.proof.carve_rows import Radii
from engine.proof.form import form_of
from engine.proof.normal_depth import depth_field

__all__ = ["Carved", "Window", "carve_window", "cell_mm", "skin_around", "uncut", "window_of"]

MOST_CELLS = 4_000_000  # 16 MB of radii, and as much again for the depths
MOST_WORK = 2.5e7  # rows met (`Work`): 2 to 3 s, six times what 22,000 strokes come to
FINEST_MM, COARSEST_MM = 0.01, 0.05  # the coarsest is a quarter of the grace that fidelity is measured with
SHARP_MM = 0.02  # cells under a tip without a flat
THIN_CELLS, THIN_MM = 2.0, 0.002  # at least so many across a groove, and no finer than that for it
SHARE = 4.0  # cells across the tip
MARGIN_MM = 0.3  # of uncut skin round the cut
FOOT_MM = 2.0  # how far beyond the window the foot of a normal may lie
SKIN_MM = 2e-5  # how exactly the skin is sampled: a hundredth of what counts as cut
POLE_MM = 0.5
_BINS = 720
LEAST_GAP = 0.1  # of a turn: a smaller gap is not worth a seam


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Carved:
    """What the moves leave. x_mm : (nx,) and theta_rad : (nt,) evenly spaced, rising; depth_mm : (nx, nt) float32 along
    the normal, 0 where uncut. whole : the columns go once round. note : how fine the cells are. coarse : coarser than
    is usual for the window, the moves were too many or swept too much. removed_mm3 : material taken off, in exact
    rotary geometry.
    """

    x_mm: Floats
    theta_rad: Floats
    depth_mm: Radii
    whole: bool
    note: str
    removed_mm3: float
    coarse: bool = False

    def __post_init__(self) -> None:
        for name in ("x_mm", "theta_rad"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        object.__setattr__(self, "depth_mm", locked(np.asarray(self.depth_mm, np.float32)))

    @property
    def frame(self) -> Frame:
        """First cell, steps and whether the columns go once round."""
        x, t = self.x_mm, self.theta_rad
        return Frame(float(x[0]), float(x[1] - x[0]), float(t[0]), float(t[1] - t[0]), self.whole)


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A box on the blank: x and theta from and to, cell size, the one that is wanted, and whether theta goes once
    round.
    """

    x_mm: tuple[float, float]
    theta_rad: tuple[float, float]
    radius_mm: float
    cell_mm: float
    whole: bool
    note: str
    fine_mm: float = FINEST_MM

    @property
    def shape(self) -> tuple[int, int]:
        """Cells along and around."""
        nx = max(math.ceil((self.x_mm[1] - self.x_mm[0]) / self.cell_mm) + 1, 5)
        nt = max(math.ceil((self.theta_rad[1] - self.theta_rad[0]) * self.radius_mm / self.cell_mm), 16)
        return nx, nt

    @property
    def frame(self) -> Frame:
        """Of the cells."""
        nx, nt = self.shape
        x0, x1 = self.x_mm
        t0, t1 = self.theta_rad
        return Frame(x0, (x1 - x0) / (nx - 1), t0, (t1 - t0) / (nt if self.whole else nt - 1), self.whole)


def cell_mm(*tools: Tool) -> float:
    """A quarter of the finest tip (a cone's flat, half a ball's radius), within FINEST_MM and COARSEST_MM."""
    tip = min(2.0 * tool.flat_mm or 0.5 * tool.round_mm or SHARP_MM * SHARE for tool in tools)
    return min(max(tip / SHARE, FINEST_MM), COARSEST_MM)


def window_of(
    skin: Skin,
    tools: Sequence[Tool],
    x_mm: tuple[float, float],
    theta_rad: Floats,
    *,
    reach_mm: float,
    groove_mm: float = math.inf,
) -> Window:
    """The window round where the tip is at the skin or below it: from x to x, and at angles (m,); m = 0: nowhere.

    reach_mm : how far the cut reaches sideways of the tip. groove_mm : how wide the thinnest tool cuts where it goes
    deepest: cells are no wider than half of it. Theta is the circle without the widest gap; where no gap
    counts, once round. Cells are coarsened until MOST_CELLS hold the box; the note says so.
    """
    low, high = _clear_of_poles(skin)
    pad = reach_mm + MARGIN_MM
    if not len(theta_rad):
        x_mm, theta_rad = (0.5 * (low + high), 0.5 * (low + high)), np.zeros(1)
    x_lo = min(max(low, x_mm[0] - pad), max(high - 2 * pad, low))
    x_hi = max(min(high, x_mm[1] + pad), min(x_lo + 2 * pad, high))
    ring = skin.radius(np.linspace(x_lo, x_hi, 65)[:, None], np.linspace(0.0, TURN_RAD, 129)[None, :])
    r_most, r_least = float(ring.max()), max(float(ring.min()), pad)
    first, last = _widest_gap(theta_rad)
    theta_pad = pad / r_least
    whole = first + TURN_RAD - last - 2 * theta_pad < LEAST_GAP * TURN_RAD
    theta = (-np.pi, np.pi) if whole else (first - theta_pad, last + theta_pad)
    fine = min(cell_mm(*tools), max(groove_mm / THIN_CELLS, THIN_MM))
    cells = (x_hi - x_lo) / fine * (theta[1] - theta[0]) * r_most / fine
    used = fine * max(1.0, math.sqrt(cells / MOST_CELLS))
    note = _note(used, fine)
    return Window(
        x_mm=(x_lo, x_hi), theta_rad=theta, radius_mm=r_most, cell_mm=used, fine_mm=fine, whole=whole, note=note
    )


def _note(used_mm: float, fine_mm: float) -> str:
    return f"cells of {used_mm:.3g} mm" + ("" if used_mm == fine_mm else f", coarsened from {fine_mm:.3g} mm")


def _affordable(window: Window, work: Work) -> Window:
    """The window, its cells so much coarser that what grows with them keeps to MOST_WORK; rows go with the cells' size,
    cells with its square.
    """
    if sum(work) <= MOST_WORK:
        return window
    left = max(MOST_WORK - work.pieces, 0.1 * MOST_WORK)
    finer = 2.0 * left / (work.rows + math.sqrt(work.rows**2 + 4.0 * work.cells * left))
    used = window.cell_mm / finer
    return replace(window, cell_mm=used, note=_note(used, window.fine_mm))


def _widest_gap(theta_rad: Floats) -> tuple[float, float]:
    """(first, last) angle of the places when the circle is opened at its widest gap, first within (-pi, pi]."""
    turned = np.mod(theta_rad, TURN_RAD)
    held = np.flatnonzero(np.bincount((turned * (_BINS / TURN_RAD)).astype(np.int64) % _BINS, minlength=_BINS))
    gap = np.diff(np.append(held, held[0] + _BINS))
    q = int(gap.argmax())
    first = int(held[(q + 1) % len(held)]) * (TURN_RAD / _BINS)
    span = (_BINS - int(gap[q]) + 1) * (TURN_RAD / _BINS)
    middle = first + 0.5 * span
    turn = TURN_RAD * math.floor(middle / TURN_RAD + 0.5)
    return first - turn, first + span - turn


def skin_around(skin: Skin, x_lo_mm: float, x_hi_mm: float) -> Sampled:
    """`skin` as coefficients, over the stretch and a little beyond it."""
    if isinstance(skin, Sampled):
        return skin
    low, high = _clear_of_poles(skin)
    return sample(skin, max(low, x_lo_mm - FOOT_MM), min(high, x_hi_mm + FOOT_MM), SKIN_MM)


def _clear_of_poles(skin: Skin) -> tuple[float, float]:
    """The blank's ends, less what is thinner than POLE_MM: at a pole the slope is infinite and no cubic follows it."""
    low, high = skin.x_range_mm
    middle, ring = 0.5 * (low + high), np.linspace(0.0, TURN_RAD, 16, endpoint=False)
    found = []
    for end in (low, high):
        thin, thick = end, middle
        if float(skin.radius(np.full(16, end), ring).min()) >= POLE_MM:
            thick = end
        for _ in range(60):
            half = 0.5 * (thin + thick)
            if float(skin.radius(np.full(16, half), ring).min()) < POLE_MM:
                thin = half
            else:
                thick = half
        found.append(thick)
    return found[0], found[1]


def uncut(skin: Sampled, window: Window) -> Radii:
    """(nx, nt) radii of the skin."""
    x0, dx, th0, dth, _ = window.frame
    nx, nt = window.shape
    x: Floats = x0 + dx * np.arange(nx, dtype=np.float64)
    theta: Floats = th0 + dth * np.arange(nt, dtype=np.float64)
    return skin.on_grid(x, theta).astype(np.float32)


def carve_window(
    skin: Sampled, window: Window, cuts: Sequence[tuple[Tool, Floats]]
) -> tuple[Carved, tuple[Carved, ...]]:
    """Depths that all moves leave, and those that each tool alone leaves, of cells no finer than MOST_WORK allows.

    cuts : each tool and its moves (n, 6), one at least.
    """
    asked = window
    before = uncut(skin, window)
    works = [work_of(before, window.frame, form_of(tool), moves) for tool, moves in cuts]
    window = _affordable(window, Work(*np.sum(works, axis=0).tolist()))
    if window is not asked:
        before = uncut(skin, window)
    radii = [before.copy() for _ in cuts]
    for left, (tool, moves) in zip(radii, cuts, strict=True):
        carve(left, window.frame, form_of(tool), moves)
    coarse = window is not asked
    each = tuple(_carved(skin, window, before, left, coarse=coarse) for left in radii)
    if len(each) == 1:
        return each[0], each
    least: Radii = np.minimum.reduce(radii)
    return _carved(skin, window, before, least, coarse=coarse), each


def _carved(skin: Sampled, window: Window, before: Radii, after: Radii, *, coarse: bool) -> Carved:
    frame, (nx, nt) = window.frame, after.shape
    return Carved(
        x_mm=frame.x0 + frame.dx * np.arange(nx, dtype=np.float64),
        theta_rad=frame.th0 + frame.dth * np.arange(nt, dtype=np.float64),
        depth_mm=depth_field(skin, frame, before, after),
        whole=window.whole,
        note=window.note,
        coarse=coarse,
        removed_mm3=_removed(before, after) * frame.dx * frame.dth,
    )


@compiled
def _removed(before: Radii, after: Radii) -> float:
    """Sum of half the difference of squares: the sector between two radii."""
    total = 0.0
    for i in range(after.shape[0]):
        for j in range(after.shape[1]):
            if after[i, j] < before[i, j]:
                a, b = np.float64(after[i, j]), np.float64(before[i, j])
                total += 0.5 * (b - a) * (b + a)
    return total
