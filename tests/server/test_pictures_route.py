"""A picture as it will be engraved, and the card of steps: what the routes take and give."""

import io

import pytest
from PIL import Image

from tests.server.conftest import job


def kept(app):
    held = io.BytesIO()
    Image.new("L", (40, 20), 90).save(held, "PNG")
    return app.state.house.assets.add(held.getvalue(), kind="raster", media_type="image/png", facts={}).id


def test_a_picture_comes_as_png(client):
    answer = client.post("/api/picture", json={"job": job(), "artwork": 0})
    assert answer.status_code == 200 and answer.headers["content-type"] == "image/png"
    assert answer.content.startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ([], ""),
        ({"job": {}}, ""),
        ({"job": {}, "artwork": "0"}, "/artwork"),
        ({"job": {}, "artwork": True}, "/artwork"),
        ({"job": {"name": 5}, "artwork": 0}, "/job/blank"),
    ],
)
def test_what_is_wrong_with_the_body_is_told_at_its_place(client, body, pointer):
    answer = client.post("/api/picture", json=body)
    assert answer.status_code == 422
    assert pointer in [one["pointer"] for one in answer.json()["errors"]]


def test_a_card_to_cut_comes_as_artwork(client):
    answer = client.get("/api/tone-card.png?steps=8")
    assert answer.status_code == 200
    assert Image.open(io.BytesIO(answer.content)).size == (8 * 12 + 2, 24)
    assert client.get("/api/tone-card.png?steps=1").status_code == 422


def test_a_card_that_was_cut_is_read(client, app):
    answer = client.post("/api/tone-card", json={"asset": kept(app), "steps": 4})
    assert answer.status_code == 200 and len(answer.json()["steps"]) == 4


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/asset"),
        ({"asset": "0" * 64}, "/asset"),
        ({"asset": "x", "picture": {"turn_deg": "a"}}, "/picture/turn_deg"),
    ],
)
def test_a_card_needs_a_photograph(client, body, pointer):
    answer = client.post("/api/tone-card", json=body)
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == pointer


def test_a_plans_paper_comes_as_pdf(client):
    plan = client.post("/api/plan", json=job(), headers={"Prefer": "wait=10"}).json()
    answer = client.get(f"/api/plans/{plan['id']}/paper.pdf?page=letter")
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/pdf"
    assert "paper-pattern-letter.pdf" in answer.headers["content-disposition"]
    assert client.get(f"/api/plans/{plan['id']}/paper.pdf?page=a3").status_code == 422
