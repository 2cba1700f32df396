"""Runs made by hand, for tests of what comes after them."""

import numpy as np

from engine.toolpath.runs import Runs


def runs_of(strokes, *, feed=200.0, plunge=60.0):
    """Runs of strokes, each a list of runs, each a list of (x, theta, r)."""
    runs = [run for stroke in strokes for run in stroke]
    points = np.concatenate([np.asarray(run, float) for run in runs]) if runs else np.zeros((0, 3))
    k = len(strokes)
    return Runs(
        x_mm=points[:, 0],
        theta_rad=points[:, 1],
        r_mm=points[:, 2],
        run_offsets=np.cumsum([0] + [len(run) for run in runs]),
        stroke_offsets=np.cumsum([0] + [len(stroke) for stroke in strokes]),
        reversible=np.ones(k, bool),
        feed_mm_min=np.full(k, feed),
        plunge_mm_min=np.full(k, plunge),
        art=np.zeros(k, int),
    )
