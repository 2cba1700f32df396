"""A job's paper pattern: what would be cut, at its true size on paper.

Takes a `Job` and the bytes of its assets; gives a PDF. Nothing is ordered, linked or proven: the strokes as they lie on
the skin are enough to look at.
"""

from collections.abc import Mapping
from math import radians

import numpy as np

from engine.job import Job
from engine.kernel.tolerance import Tolerance
from engine.outcome.cautions import CAUTIONS
from engine.paper import Paper, flats_of, paper_pdf
from engine.pieces import pieces_of

__all__ = ["PAPERS", "paper_pattern"]

PAPERS = {"a4": Paper.A4, "letter": Paper.LETTER}


def paper_pattern(job: Job, assets: Mapping[str, bytes], *, paper: str) -> bytes:
    """PDF of the pieces of paper that go round the blank, with all of the art that can be laid. paper : of PAPERS."""
    skin = job.blank.skin(assets)
    pieces, _ = pieces_of(job, skin, assets, Tolerance(), lambda stage, progress, arrays: None)
    laid = [piece.laid for piece in pieces]
    sizes = np.concatenate([np.zeros(1, np.int64), *(np.diff(one.offsets) for one in laid)])
    x = np.concatenate([np.zeros(0), *(one.x_mm for one in laid)])
    theta = np.concatenate([np.zeros(0), *(one.theta_rad for one in laid)])
    return paper_pdf(
        flats_of(skin, radians(job.blank.seam_deg)),
        (x, theta, np.cumsum(sizes)),
        paper=PAPERS[paper],
        name=job.name,
        caution=CAUTIONS[0][1],
    )
