"""How sure, beside brute force on wrong skins: `python -m tests.bench.sureness`.

What the proof of one text foretells, and what the same text does on 60 skins that are wrong by the model's own law,
made in another way: the mean shares, and between what nine skins in ten lie. Then the time of 200 draws at 20,000
places, CPU milliseconds, the least of five. Nothing is asserted.
"""

import sys
import time

import numpy as np

from engine.proof.sureness import how_sure
from tests.proof.test_sureness import LENGTH, SIGMA, STRETCH, ZERO, brute_force

PAIRS = 30
PLACES = 20_000


def main():
    """Print the tables."""
    out = sys.stdout.write
    out(f"{'share of the cut':22}{'foretold':>10}{'made':>8}{'+-':>7}{'foretold, 9 in 10':>22}{'made, 9 in 10':>18}\n")
    for name in STRETCH:
        sure, alike, found = brute_force(name, PAIRS)
        error = found.reshape(PAIRS, 2, 2).mean(axis=1).std(axis=0, ddof=1) / PAIRS**0.5
        low, high = np.quantile(found, [0.05, 0.95], axis=0)
        for k, what in enumerate(("unmarked", "too_deep")):
            told, inside = getattr(sure, what), getattr(alike, what)
            figures = f"{told.mean:10.4f}{found[:, k].mean():8.4f}{error[k]:7.4f}"
            between = f"{inside.low:14.3f} to{inside.high:6.3f}{low[k]:10.3f} to{high[k]:6.3f}"
            out(f"{f'{name}, {what}':22}{figures}{between}\n")
    x, theta = np.linspace(10.0, 80.0, PLACES), np.linspace(-30.0, 30.0, PLACES)
    cut = (np.full(PLACES, 0.2), (x, theta, np.full(PLACES, 20.0)), np.ones(PLACES), np.ones(PLACES))
    known = {"asked_mm": 0.2, "sigma_mm": SIGMA, "zero_sigma_mm": ZERO, "runout_mm": 0.02, "wall_mm": 2.0}
    for length in (3.0, LENGTH, 15.0, 50.0):
        least = np.inf
        for _ in range(5):
            start = time.process_time()
            how_sure(*cut, **known, correlation_mm=length)
            least = min(least, time.process_time() - start)
        out(f"{f'{PLACES:,} places, alike over {length:g} mm':40}{1000 * least:8.1f} ms\n")


if __name__ == "__main__":
    main()
