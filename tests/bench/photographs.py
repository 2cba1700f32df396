"""Photographs to skins, beside the true pieces: `python -m tests.bench.photographs [megapixels] [row...]`.

Photographs come from the tests' own ray caster (12 megapixels unless told otherwise); errors in mm away from the last
5 mm of either end. Times are CPU seconds. Nothing is asserted.
"""

import math
import sys
import time

import numpy as np

from engine.measure.photographs import Lens, Setup, find_edge, skin_from_edges
from tests.measure.photographs import pieces, renderer

FULL = 12.0
FAULTS = {"k1": -0.08, "sharpen": 0.8, "gloss": 0.5, "sheen": 0.1, "wobble_mm": 0.3, "hardware_mm": 9.0}
CARD = 0.001  # how far off, and how sure, the lens is taken to be calibrated
ROWS = {
    "gourd, 36": (pieces.GOURD, 36, {}, {}),
    "gourd, 24": (pieces.GOURD, 24, {}, {}),
    "gourd, 36, distance not told": (pieces.GOURD, 36, {}, {"camera_mm": None}),
    "bottle, 1": (pieces.BOTTLE, 1, {"hardware_mm": 8.0}, {}),
    "egg with poles, 36": (pieces.EGG, 36, {}, {}),
    "dented, 36": (pieces.DENTED, 36, {}, {}),
    "gourd, 36, all the faults": (pieces.GOURD, 36, FAULTS, {"lens": Lens(k1=-0.08 + CARD, k1_sigma=CARD)}),
    "gourd, 24, all the faults": (pieces.GOURD, 24, FAULTS, {"lens": Lens(k1=-0.08 + CARD, k1_sigma=CARD)}),
}


def sized(megapixels, faults):
    """The caster's setting for pictures of this many megapixels, 4 by 3."""
    scale = math.sqrt(megapixels / FULL)
    width, height = (8 * round(side * scale / 8) for side in (4000, 3000))
    return renderer.Setting(width=width, height=height, px_per_mm=30.0 * width / 4000, **faults)


def taken(kind, count, setting, rng, faulty):
    """(edges, angles, axis) of a turned piece, the axis as of a still camera; CPU seconds a found edge."""
    angles = np.arange(count) * 360.0 / count
    axis = renderer.axis_ends(kind, setting)
    if faulty:
        axis = axis + 1.5 * rng.standard_normal((2, 2))
    edges, spent = [], 0.0
    for i, angle in enumerate(angles):
        stood = math.radians(angle + 0.5 * faulty * rng.standard_normal())
        picture = renderer.photograph(kind, math.degrees(stood), setting, seed=100 * kind + i)[0]
        start = time.process_time()
        edges.append(find_edge(picture, axis_px=axis))
        spent += time.process_time() - start
    return edges, angles, axis, spent / count


def main(megapixels=FULL, wanted=()):
    """Print the table."""
    out = sys.stdout.write
    out(f"{megapixels:g} megapixels{'':20}{'rms':>8}{'worst':>8}{'sigma':>8}{'err/sig':>8}{'s/edge':>8}{'s/fit':>7}\n")
    for name, (kind, count, faults, more) in ROWS.items():
        if wanted and not any(word in name for word in wanted):
            continue
        setting, rng, faulty = sized(megapixels, faults), np.random.default_rng(7), bool(faults.get("wobble_mm"))
        edges, angles, axis, edge_s = taken(kind, count, setting, rng, faulty)
        given = {"camera_mm": setting.camera_mm, "axis_sigma_px": 1.5 if faulty else 1.0, **more}
        size = (setting.width, setting.height)
        length = pieces.LENGTH_MM[kind]
        setup = Setup(axis_from_px=axis[0], axis_to_px=axis[1], size_px=size, length_mm=length, **given)
        start = time.process_time()
        skin = skin_from_edges(edges, angles, setup)
        fit_s = time.process_time() - start
        error = skin.radius_mm - pieces.truth(kind, skin.x_mm[:, None], skin.theta_rad[None, :])
        kept = skin.known & ((skin.x_mm >= 5.0) & (skin.x_mm <= length - 5.0))[:, None]
        ratio = (error / skin.sigma_mm)[kept]
        figures = [np.sqrt(np.mean(error[kept] ** 2)), np.abs(error[kept]).max()]
        figures += [np.sqrt(np.mean(skin.sigma_mm[kept] ** 2)), np.sqrt(np.mean(ratio**2))]
        out(f"{name:34}" + "".join(f"{one:8.4f}" for one in figures) + f"{edge_s:8.2f}{fit_s:7.1f}")
        out(f"  {', '.join(sorted({one.code for one in skin.findings}))}\n")
        for what, told in skin.how:
            out(f"    {what}: {told}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else FULL, sys.argv[2:])
