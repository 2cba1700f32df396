"""The edge of a blank in one photograph, for a page that draws it and lets a person mend it."""

from base64 import b64encode

import numpy as np

from engine.kernel.errors import EngineError
from engine.measure.photographs import Edge
from engine.measuring.answer import Answer, told
from engine.measuring.documents import OutlineDocument
from engine.measuring.way import Around

__all__ = ["outline"]


def outline(asked: OutlineDocument, around: Around) -> Answer:
    """The found edge, and the distance from the background at each place, so that a page can try other thresholds."""
    try:
        edge = asked.photo.edge(around.assets, asked.axis)
    except EngineError as exc:
        exc.where = "/photo/asset"
        raise
    return Answer(value=_facts(edge))


def _facts(edge: Edge) -> dict[str, object]:
    height, width = edge.distance.shape
    return {
        "size_px": list(edge.size_px),
        "points_px": np.round(edge.points_px, 2).tolist(),
        "ok": edge.ok.tolist(),
        "threshold": round(edge.threshold, 3),
        "otsu": round(edge.otsu, 3),
        "distance": {
            "width": width,
            "height": height,
            "scale_px": edge.mask_scale,
            "per_level": round(edge.distance_step, 6),
            "data": b64encode(edge.distance.tobytes()).decode("ascii"),
        },
        "findings": told(edge.findings),
    }
