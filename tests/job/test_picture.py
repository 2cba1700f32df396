"""The documents of a photograph's edits and of how a drawing is taken: values, and every fault at its own place."""

import pytest

from engine.artwork import Background, Crop, Detail, DrawingChoice, Edits, Levels, Response
from engine.job.artwork import ArtworkDocument
from engine.job.picture import DrawingDocument, PictureDocument
from engine.job.reading import read
from engine.kernel.errors import JobError
from tests.job.documents import LEAST, put

STEPS = [{"asked": 0.0, "measured": 0.05}, {"asked": 0.5, "measured": 0.7}, {"asked": 1.0, "measured": 0.8}]
WHOLE = {
    "turn_deg": -3.5,
    "crop": {"left": 0.1, "top": 0.2, "right": 0.9, "bottom": 0.7},
    "denoise": 0.4,
    "background": {"remove": True, "tolerance": 0.1},
    "levels": {"black": 10, "white": 240, "middle": 1.2},
    "curve": [[0, 0], [0.4, 0.5], [1, 1]],
    "local_contrast": {"amount": 0.3, "radius_mm": 3},
    "sharpen": {"amount": 1.5, "radius_mm": 0.1},
    "response": {"steps": STEPS},
}
ART = LEAST["artwork"][0]


def faults(document: object) -> list[str]:
    with pytest.raises(JobError) as caught:
        read(ArtworkDocument, document, at="/artwork/0")
    return [p.pointer for p in caught.value.problems]


def test_everything_that_is_said_is_done() -> None:
    assert read(PictureDocument, WHOLE).value() == Edits(
        turn_deg=-3.5,
        crop=Crop(left=0.1, top=0.2, right=0.9, bottom=0.7),
        denoise=0.4,
        background=Background(tolerance=0.1),
        levels=Levels(black=10, white=240, middle=1.2),
        curve=((0, 0), (0.4, 0.5), (1, 1)),
        local_contrast=Detail(amount=0.3, radius_mm=3),
        sharpen=Detail(amount=1.5, radius_mm=0.1),
        response=Response(asked=(0, 0.5, 1), measured=(0.05, 0.7, 0.8)),
    )
    drawing = {"unit": "inch", "layers": ["beds", "Paths"], "fill_closed": True}
    assert read(DrawingDocument, drawing).value() == DrawingChoice(
        unit="inch", layers=("beds", "Paths"), fill_closed=True
    )


def test_what_is_left_out_does_nothing() -> None:
    assert read(PictureDocument, {}).value() == Edits()
    assert not read(PictureDocument, {"crop": {}, "levels": {}}).value().moves_pixels
    assert read(PictureDocument, {"background": {"remove": False}}).value().background is None
    assert read(DrawingDocument, {}).value() == DrawingChoice()
    art = read(ArtworkDocument, ART)
    assert art.picture is None and art.drawing is None


@pytest.mark.parametrize(
    ("place", "value"),
    [
        ("/picture/crop", {"left": 0.5, "right": 0.5}),
        ("/picture/crop/left", -0.1),
        ("/picture/levels", {"black": 200, "white": 200}),
        ("/picture/levels/middle", 0),
        ("/picture/curve", [[0, 0]]),
        ("/picture/curve", [[0, 0], [0.5, 0.6], [0.4, 0.8]]),
        ("/picture/curve", [[0, 0.5], [1, 0.4]]),
        ("/picture/curve/1/0", "right"),
        ("/picture/denoise", True),
        ("/picture/local_contrast/amount", 1.1),
        ("/picture/sharpen/radius_mm", 0),
        ("/picture/background/tolerance", 2),
        ("/picture/response/steps", STEPS[:1]),
        ("/picture/response/steps", [STEPS[1], STEPS[0]]),
        ("/picture/response/steps", [{"asked": 0.2 * k, "measured": 1 - 0.18 * k} for k in range(1, 6)]),
        ("/picture/response/steps", [{"asked": 0.2, "measured": 0.3}, {"asked": 1, "measured": 0.3}]),
        ("/picture/response/steps/0/measured", 1.5),
        ("/picture/turn", 5),
        ("/drawing/unit", "foot"),
        ("/drawing/layers", []),
        ("/drawing/layers/0", 3),
        ("/drawing/fill_closed", "yes"),
    ],
)
def test_each_fault_is_told_at_its_place(place: str, value: object) -> None:
    whole = ART | {"picture": WHOLE, "drawing": {"unit": "mm", "layers": ["a"]}}
    assert faults(put(whole, place, value)) == ["/artwork/0" + place]
