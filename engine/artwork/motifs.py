"""The motifs of borders, drawn on a straight strip: s mm along it, n mm across it, 0 in its middle.

Each kind gives lines that run through the whole strip, from s = 0 to its end, and closed rings, a few a motif. Rings
never meet; what begins at s = 0 goes on at the strip's end, so that a strip which is bent round joins itself.
"""

from collections.abc import Callable
from enum import Enum

import numpy as np

from engine.kernel.arrays import Floats

__all__ = ["Kind", "Strip"]

FINE = 512  # places at which a side of a motif is looked at before those that show are kept
STRAND = 0.41  # half the width of a rope's strand, of the motif's length: the gap between strands is the rest
SLANT = 0.55  # how far a strand leans to each side, of the motif's length
SWAY = 0.12  # how far a stem sways to each side, of the border's height
LEAF = 0.16  # half the width of a leaf, of its length
BROADEST = 0.18  # the same, of the border's height: a long leaf stays slender


class Kind(Enum):
    """What a border is made of."""

    LINE = "line"
    DOUBLE = "double"
    ROPE = "rope"
    WAVE = "wave"
    ZIGZAG = "zigzag"
    LEAVES = "leaves"

    @property
    def proportion(self) -> float:
        """Length of a motif that looks well, in heights of the border; 0 of what has no motif."""
        return {Kind.ROPE: 0.8, Kind.WAVE: 2.0, Kind.ZIGZAG: 1.2, Kind.LEAVES: 2.4}.get(self, 0.0)


class Strip:
    """A strip of motifs. lines, rings : (k, 2) arrays of (s, n) mm; rings are closed and run counter-clockwise.

    times motifs of period_mm each and height_mm high; no chord leaves its curve by more than chord_mm.
    """

    def __init__(self, kind: Kind, *, period_mm: float, height_mm: float, times: int, chord_mm: float) -> None:
        self.length_mm = times * period_mm
        self._size = np.array([period_mm, height_mm])
        self._times, self._chord_mm = times, chord_mm
        self.lines: list[Floats] = []
        self.rings: list[Floats] = []
        {
            Kind.LINE: lambda: self._edges(0.0),
            Kind.DOUBLE: lambda: self._edges(-0.5, 0.5),
            Kind.ROPE: self._rope,
            Kind.WAVE: lambda: self._through(_sine(0.5)),
            Kind.ZIGZAG: lambda: self._repeat_line(np.array([[0.0, 0.0], [0.25, 0.5], [0.75, -0.5], [1.0, 0.0]])),
            Kind.LEAVES: self._leaves,
        }[kind]()

    def _edges(self, *across: float) -> None:
        self.lines += [np.array([[0.0, n], [self._times, n]]) * self._size for n in across]

    def _through(self, curve: Callable[[Floats], Floats]) -> None:
        """One line of all motifs: `curve` gives n over s of one motif, both in shares of its size."""
        s = np.linspace(0.0, 1.0, FINE + 1)
        self._repeat_line(_kept(np.stack([s, curve(s)], axis=1) * self._size, self._chord_mm) / self._size)

    def _repeat_line(self, motif: Floats) -> None:
        first = np.arange(self._times, dtype=np.float64)
        run = (motif[None, :-1] + np.stack([first, 0.0 * first], axis=1)[:, None]).reshape(-1, 2)
        self.lines.append(np.vstack([run, motif[-1] + [self._times - 1.0, 0.0]]) * self._size)

    def _repeat_ring(self, sides: list[Floats]) -> None:
        """A ring of each motif, of sides (k, 2) in mm that join end to end."""
        kept = [_kept(side, self._chord_mm)[:-1] for side in sides]
        ring = np.vstack([*kept, kept[0][:1]])
        self.rings += [ring + [k * self._size[0], 0.0] for k in range(self._times)]

    def _rope(self) -> None:
        """Leaning strands, each an S that is round at its ends."""
        turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, FINE + 1)
        n = 0.5 * np.sin(turn)
        lean = 0.5 + SLANT * np.sin(np.pi * n)
        wide = STRAND * np.cos(turn) ** 0.5
        right, left = (np.stack([lean + side * wide, n], axis=1) * self._size for side in (1.0, -1.0))
        self._repeat_ring([right, left[::-1]])

    def _leaves(self) -> None:
        """A stem that sways, and two leaves a motif, one to each side."""
        self._through(_sine(SWAY))
        for s, way in ((0.1, 1.0), (0.6, -1.0)):
            root = np.array([s, _sine(SWAY)(np.array([s]))[0]]) * self._size
            tip = np.array([s + 0.42, way * 0.47]) * self._size
            t = np.linspace(0.0, 1.0, FINE + 1)[:, None]
            along = tip - root
            slender = min(LEAF, BROADEST * self._size[1] / float(np.hypot(*along)))
            bulge = slender * np.sin(np.pi * t) * np.array([-along[1], along[0]])
            right, left = root + t * along - bulge, root + t * along + bulge
            self._repeat_ring([right, left[::-1]])


def _sine(amplitude: float) -> Callable[[Floats], Floats]:
    def at(s: Floats) -> Floats:
        return np.asarray(amplitude * np.sin(2.0 * np.pi * s))

    return at


def _kept(fine: Floats, chord_mm: float) -> Floats:
    """Of a finely looked-at curve (k, 2) the points that keep every chord within `chord_mm`; both ends stay.

    A chord as long as sqrt(8 chord / curvature) is `chord_mm` off the curve: points stand evenly by that measure.
    """
    way = np.diff(fine, axis=0)
    step = np.hypot(*way.T)
    cross = way[:-1, 0] * way[1:, 1] - way[:-1, 1] * way[1:, 0]
    turn = np.arctan2(np.abs(cross), (way[:-1] * way[1:]).sum(axis=1))
    need = np.concatenate([[0.0], np.cumsum(np.sqrt(turn * 0.5 * (step[:-1] + step[1:]) / (8.0 * chord_mm)))])
    count = int(np.ceil(need[-1])) + 2
    at = np.searchsorted(need, np.linspace(0.0, need[-1], count + 1)[1:-1]) + 1
    return fine[np.unique(np.concatenate([[0], np.minimum(at, len(fine) - 1), [len(fine) - 1]]))]
