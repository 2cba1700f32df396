"""A skin from a scan, and the axis on which the mesh was laid."""

import numpy as np

from engine.job.scan import ScannedDocument
from engine.measuring.answer import Answer, skin_answer
from engine.measuring.way import Around

__all__ = ["skin_of_scan"]


def skin_of_scan(asked: ScannedDocument, around: Around) -> Answer:
    """The skin of a mesh; its axis in mm of the file's frame, `origin` where x = 0 lies."""
    measured, axis = asked.laid(around.assets)
    origin = axis.origin + axis.x_zero_mm * axis.direction
    facts = {"origin_mm": np.round(origin, 4).tolist(), "direction": np.round(axis.direction, 6).tolist()}
    return skin_answer(measured, axis=facts)
