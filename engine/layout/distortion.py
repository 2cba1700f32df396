"""What a layout does to shapes: Tissot's ellipse at each place, for any mapping.

Source: J. P. Snyder, Map Projections - A Working Manual (1987), chapter 4: the ellipse's half axes are the singular
values of the map between orthonormal frames.
"""

from dataclasses import dataclass

import numpy as np

from engine.blank import metric
from engine.kernel.arrays import Floats
from engine.layout.layout import Layout

__all__ = ["Distortion", "distortion"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Distortion:
    """What becomes of a small circle of the sheet at each of n places.

    greatest, least : (n,) mm on the skin for a mm on the sheet, along the ellipse's long and short axis.
    sheet_rad, skin_rad : (n,) where the long axis points, in [0, pi), on the sheet from its right and on the skin from
    +theta, both counter-clockwise as seen from outside; any angle will do where the two are equal.
    """

    greatest: Floats
    least: Floats
    sheet_rad: Floats
    skin_rad: Floats

    @property
    def area(self) -> Floats:
        """mm2 on the skin for a mm2 on the sheet."""
        return self.greatest * self.least


def distortion(layout: Layout, uv_mm: Floats) -> Distortion:
    """Tissot's ellipse at (n, 2) places of the sheet. LayoutError where they cannot be laid."""
    x, theta = layout.wrap(uv_mm)
    skin = layout.skin
    E, F, G = metric(skin.radius(x, theta), *skin.slopes(x, theta))
    slopes = layout.jacobian(uv_mm)
    along, around = slopes[:, 0], slopes[:, 1]
    # mm on the skin towards +theta, and square to that towards +x, for a mm right and a mm up on the sheet.
    right = (F[:, None] * along + G[:, None] * around) / np.sqrt(G)[:, None]
    up = np.sqrt(np.maximum(E - F**2 / G, 0.0))[:, None] * along
    turned = 0.5 * ((right[:, 0] + up[:, 1]) + 1j * (up[:, 0] - right[:, 1]))
    mirrored = 0.5 * ((right[:, 0] - up[:, 1]) + 1j * (up[:, 0] + right[:, 1]))
    a, b = np.angle(turned), np.angle(mirrored)
    return Distortion(
        greatest=np.abs(turned) + np.abs(mirrored),
        least=np.abs(np.abs(turned) - np.abs(mirrored)),
        sheet_rad=np.mod(0.5 * (b - a), np.pi),
        skin_rad=np.mod(0.5 * (b + a), np.pi),
    )
