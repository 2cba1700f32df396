"""Photographs: a skin from many; one edge, for a page that draws and mends it; the lens, by pictures of its card."""

from base64 import b64encode

import numpy as np

from engine.artwork import read_photograph
from engine.job.photographs import PhotographsDocument
from engine.kernel.errors import EngineError
from engine.measure.photographs import Edge, Paper, lens_from_cards, read_card
from engine.measure.photographs import card_svg as drawn_card
from engine.measuring.answer import Answer, finding_list, skin_answer
from engine.measuring.documents import LensDocument, OutlineDocument
from engine.measuring.way import Around

__all__ = ["card_svg", "lens_of_cards", "outline", "skin_of_photographs"]


def skin_of_photographs(asked: PhotographsDocument, around: Around) -> Answer:
    """The skin that the silhouettes show, and what was found of camera, stand and rotary beside it."""
    return skin_answer(asked.measured(around.assets))


def outline(asked: OutlineDocument, around: Around) -> Answer:
    """The found edge, and the distance from the background at each place, so that a page can try other thresholds."""
    return Answer(value=_facts(asked.photo.edge(around.assets, asked.axis, at="/photo")))


def card_svg(paper: str) -> str:
    """The card of which photographs tell the lens, on `a4` or `letter` paper, as SVG text in true mm."""
    return drawn_card({"a4": Paper.A4, "letter": Paper.LETTER}[paper])


def lens_of_cards(asked: LensDocument, around: Around) -> Answer:
    """How the lens bends a picture, from photographs of the printed card."""
    views = []
    for k, asset in enumerate(asked.photos):
        try:
            views.append(read_card(read_photograph(around.assets[asset])))
        except EngineError as exc:
            exc.where = f"/photos/{k}"
            raise
    lens = lens_from_cards(views)
    value = {
        "k1": round(lens.k1, 6),
        "k2": round(lens.k2, 6),
        "k1_sigma": round(lens.k1_sigma, 6),
        "sigma": round(lens.k1_sigma, 6),
        "residual_px": round(lens.residual_px, 4),
        "dots": lens.dots,
        "findings": [],
    }
    return Answer(value=value)


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
        "findings": finding_list(edge.findings),
    }
