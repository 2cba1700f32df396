"""What a job's photograph is shown as before it is planned, and a card of steps read back."""

import io

import numpy as np
import pytest
from PIL import Image

from engine.artwork import tone_card
from engine.job import Known, PictureDocument, read_job
from engine.kernel.errors import ArtworkError, JobError
from engine.pictures import CardDocument, card_png, finest_mm, picture_shown, read_card


def png(grey):
    held = io.BytesIO()
    Image.fromarray(grey).save(held, "PNG")
    return held.getvalue()


def job(marking, **art):
    document = {
        "schema": "roundwright.job/1",
        "name": "Seed-swap float",
        "blank": {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90},
        "artwork": [
            {"asset": "p", "placement": {"x_mm": 45, "width_mm": 20}, "marking": marking, "depth_mm": 0.2} | art
        ],
    }
    return read_job(document, known=Known(assets={"p": "raster"}))


GREY = np.tile(np.linspace(0, 255, 400).astype(np.uint8), (200, 1))


def test_a_picture_is_shown_as_fine_as_its_lines_can_draw_it():
    asked = job({"style": "hatch"}, depth_mm=0.6)
    shown = Image.open(io.BytesIO(picture_shown(asked, 0, {"p": png(GREY)})))
    # a groove of a cone of 60 degrees, 0.1 + 2 * 0.6 * tan 30 wide (T1), in four
    assert finest_mm(asked.items[0]) == pytest.approx((0.1 + 1.2 * np.tan(np.pi / 6)) / 4)
    assert shown.size == pytest.approx((20 / finest_mm(asked.items[0]), 10 / finest_mm(asked.items[0])), abs=1)
    assert set(np.unique(np.asarray(shown))) == {0, 255}  # cut or not: hatch knows no greys


def test_edits_and_tone_are_done_before_it_is_shown():
    edits = {"crop": {"left": 0.5}, "levels": {"black": 0, "white": 255}}
    asked = job({"style": "hatch"}, picture=edits, tone={"invert": True, "threshold": 64})
    shown = np.asarray(Image.open(io.BytesIO(picture_shown(asked, 0, {"p": png(GREY)}))))
    # the right half, dark for light: greys over 191 are cut
    assert (shown[:, : shown.shape[1] // 2 - 1] == 255).all()
    assert (shown[:, shown.shape[1] // 2 + 1 :] == 0).all()


@pytest.mark.parametrize("index", [-1, 1])
def test_a_piece_that_is_not_there_is_told_at_its_place(index):
    with pytest.raises(JobError) as told:
        picture_shown(job({"style": "hatch"}), index, {"p": png(GREY)})
    assert told.value.problems[0].pointer == "/artwork"


def test_a_card_reads_back_what_it_asked():
    steps = read_card(CardDocument(asset="c", steps=9), {"c": card_png(9)})
    assert [s["asked"] for s in steps] == pytest.approx(tone_card(9).asked, abs=1e-4)
    assert [s["measured"] for s in steps] == pytest.approx([s["asked"] for s in steps], abs=0.003)


def test_a_card_is_cropped_out_of_its_photograph():
    card = np.asarray(Image.open(io.BytesIO(card_png(8))).convert("L"))
    photograph = np.full((card.shape[0] * 2, card.shape[1] * 2), 90, np.uint8)
    photograph[: card.shape[0], : card.shape[1]] = card
    crop = PictureDocument.model_validate({"crop": {"right": 0.5, "bottom": 0.5}})
    steps = read_card(CardDocument(asset="c", steps=8, picture=crop), {"c": png(photograph)})
    assert [s["measured"] for s in steps] == pytest.approx([s["asked"] for s in steps], abs=0.003)


def test_a_drawing_is_no_photograph_of_a_card():
    with pytest.raises(ArtworkError, match="no photograph"):
        read_card(CardDocument(asset="c"), {"c": b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'})


@pytest.mark.parametrize("name", ["white", "grey", "upside down", "of other steps"])
def test_a_photograph_without_a_cards_steps_is_refused_at_its_edits(name):
    card = np.asarray(Image.open(io.BytesIO(card_png(16))).convert("L"))
    turned = {
        "white": np.full_like(card, 255),
        "grey": np.full_like(card, 128),
        "upside down": card[::-1, ::-1],
        "of other steps": np.asarray(Image.open(io.BytesIO(card_png(16))).convert("L")),
    }[name]
    steps = 5 if name == "of other steps" else 16
    with pytest.raises(ArtworkError, match=f"does not grow darker along a card of {steps} steps") as told:
        read_card(CardDocument(asset="c", steps=steps), {"c": png(np.ascontiguousarray(turned))})
    assert told.value.where == "/picture" and "upright" in told.value.hint


def test_what_is_wrong_with_a_card_or_a_picture_is_told_at_its_field():
    with pytest.raises(ArtworkError) as told:
        read_card(CardDocument(asset="c", steps=1), {"c": card_png(9)})
    assert told.value.where == "/steps"
    with pytest.raises(ArtworkError, match="one grey") as told:
        picture_shown(job({"style": "hatch"}), 0, {"p": png(np.full((9, 9), 40, np.uint8))})
    assert told.value.where == "/artwork/0/tone/threshold"
    with pytest.raises(ArtworkError) as told:
        picture_shown(job({"style": "hatch"}), 0, {"p": png(GREY)[:200]})
    assert told.value.where == "/artwork/0/asset"
