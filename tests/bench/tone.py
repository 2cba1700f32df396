"""A whole plan of a halftone as its picture grows: `python -m tests.bench.tone`.

CPU seconds of this process, warm and with freed memory kept as in a worker, of one `engine.plan` with all of it:
picture read, rows, path, order, program, air run and walk written, all three read back, the engraving carved and
judged. At a tenth, three tenths and the whole of 1 M samples of tone along the rows, of a picture of soft light and
dark, and of one as rough as its rows can show. Beside it the time of numpy's own text writer on as many lines of three
words, in the same run. Nothing is asserted.
"""

import io
import sys
import time

import numpy as np
from PIL import Image
from scipy.ndimage import gaussian_filter

import engine
from server.workers import heap

PITCH_MM, STEPS_A_PITCH = 0.3, 6  # rows, and samples along them, of `engine.marking.halftone`
SAMPLES = (100_000, 300_000, 1_000_000)
KINDS = {"soft": 5.0, "rough": 0.6}  # fine waviness in samples


def picture(side_px, wave_px):
    """PNG of made-up greys, wide and fine waves together."""
    noise = np.random.default_rng(5).standard_normal((side_px, side_px))
    tone = sum(f / f.std() for f in (gaussian_filter(noise, w) for w in (side_px / 80, wave_px)))
    out = io.BytesIO()
    Image.fromarray((255 * np.clip(0.5 - 0.25 * tone, 0, 1)).astype(np.uint8)).save(out, "PNG")
    return out.getvalue()


def job_of(samples):
    """A picture of so many samples on a turned bottle."""
    width = (samples * PITCH_MM**2 / STEPS_A_PITCH) ** 0.5
    document = {
        "schema": "roundwright.job/1",
        "name": "Fair",
        "blank": {"shape": "cylinder", "length_mm": 260, "diameter_mm": 120},
        "artwork": [
            {
                "asset": "tone",
                "placement": {"x_mm": 130, "angle_deg": 0, "width_mm": width},
                "marking": {"style": "halftone", "pitch_mm": PITCH_MM},
                "depth_mm": 0.3,
                "feed_mm_min": 240,
                "direction": "any",
            }
        ],
        "tools": [{"id": "point", "form": "cone", "diameter_mm": 3, "tip_mm": 0.02, "angle_deg": 60}],
    }
    return engine.read_job(document, known=engine.Known(assets={"tone": "raster"})), width


def spent(work):
    """CPU seconds, of all threads, and the result."""
    start = time.process_time()
    result = work()
    return time.process_time() - start, result


def lines_by_numpy(count):
    """Baseline: three columns as text."""
    np.savetxt(io.BytesIO(), np.random.default_rng(1).uniform(-99, 99, (count, 3)), fmt="X%.4f A%.4f Z%.4f")


def main():
    """Print the table."""
    heap.keep()
    out = sys.stdout.write
    out(f"{'picture':10}{'samples':>12}{'lines':>12}{'CPU s':>9}{'us a line':>11}{'ratio to savetxt':>18}\n")
    for kind, wave in KINDS.items():
        times = []
        for samples in (SAMPLES[0] // 10, *SAMPLES):
            job, width = job_of(samples)
            assets = {"tone": picture(round(width / PITCH_MM * STEPS_A_PITCH), wave)}
            seconds, plan = spent(lambda job=job, assets=assets: engine.plan(job, assets))
            heap.give_back()
            if samples not in SAMPLES:
                continue  # compiled loops ready
            lines = plan.programs["engrave"].text.count(b"\n")
            base, _ = spent(lambda lines=lines: lines_by_numpy(lines))
            times.append(seconds)
            out(f"{kind:10}{samples:12,}{lines:12,}{seconds:9.2f}{1e6 * seconds / lines:11.1f}{seconds / base:18.2f}\n")
            sys.stdout.flush()
        out(f"{'':10}exponent {np.polyfit(np.log(SAMPLES), np.log(times), 1)[0]:.2f}\n")


if __name__ == "__main__":
    main()
