"""Synthetic art for the benchmark: a field of wavy blobs whose hatch gives about as many strokes as asked."""

import numpy as np

from engine.artwork import Drawing
from engine.blank import Skin, read_grid
from engine.kernel.ragged import Ragged
from tests.blank.skins import gourd_csv

__all__ = ["field_of_blobs", "gourd"]


def gourd() -> Skin:
    """The measured skin of the test suite: three lobes, held off its axis."""
    return read_grid(gourd_csv())


def field_of_blobs(strokes: int, *, pitch_mm: float = 0.3, width_mm: float = 90.0) -> tuple[Drawing, float]:
    """The drawing, and the pitch that gives about `strokes` hatch strokes on it."""
    across = max(4, round((strokes / 14) ** 0.5))
    size = width_mm / across
    t = np.linspace(0, 2 * np.pi, 97)
    rings = []
    for i in range(across):
        for j in range(across):
            r = 0.42 * size * (1 + 0.15 * np.sin(3 * t + i) + 0.08 * np.cos(7 * t + j))
            ring = np.stack(
                [(i + 0.5) * size - width_mm / 2 + r * np.cos(t), (j + 0.5) * size - width_mm / 2 + r * np.sin(t)], 1
            )
            ring[-1] = ring[0]
            rings.append(ring)
    pitch = min(pitch_mm, 0.84 * size * across * across / strokes)
    return Drawing(width_mm=width_mm, height_mm=width_mm, rings=Ragged.of(rings)), pitch
