"""Any text is proved; nothing is stored."""

import json

import pytest

from tests.server.conftest import job


@pytest.mark.parametrize("text", ["M2", "", "G0\x07\x00", "\ud800", "x" * 3_000_000, "½ inch"])
def test_any_text_is_read(client, text):
    before = client.get("/api/jobs").json()
    body = json.dumps({"job": job(), "program": text}).encode()
    answer = client.post("/api/prove", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 200, answer.text
    assert answer.json() == {"findings": [], "characters": len(text)}
    assert client.get("/api/jobs").json() == before


@pytest.mark.parametrize(
    ("body", "pointer"),
    [([], ""), ({"job": {}}, "/program"), ({"program": "M2"}, "/job"), ({"job": {}, "program": 5}, "/program")],
)
def test_the_body_has_two_fields(client, body, pointer):
    answer = client.post("/api/prove", json=body)
    assert answer.status_code == 422 and answer.json()["errors"][0]["pointer"] == pointer
    assert client.post("/api/prove", json={"job": job(), "program": "M2", "more": 1}).status_code == 422
