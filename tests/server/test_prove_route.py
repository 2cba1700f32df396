"""Any text is proved; nothing is stored."""

import json
import time

import httpx
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


@pytest.mark.parametrize(
    ("program", "what"),
    [
        ("x1\n" * 660_001, "lines"),
        ("x1\r\n" * 660_001, "lines"),
        ("\r" * 660_001, "lines"),
        ("x" * 24_000_001, "characters"),
    ],
)
def test_a_text_longer_than_can_be_judged_is_refused_at_once_with_the_limit(client, program, what):
    answer = client.post("/api/prove", json={"job": job(), "program": program})
    told = answer.json()
    assert answer.status_code == 413 and told["type"] == "/problems/too-large"
    most = {"lines": "660,000", "characters": "24,000,000"}[what]
    assert f"{most} {what}" in told["detail"] and "in parts" in told["detail"]
    limit = int(most.replace(",", ""))
    assert told["errors"] == [{"pointer": "/program", "given": limit + 1, "allowed": f"at most {limit} {what}"}]


def test_the_longest_text_that_is_taken_is_taken(client):
    program = ("x" * 34 + "\r\n") * 660_000
    answer = client.post("/api/prove", json={"job": job(), "program": program})
    assert answer.status_code == 200 and answer.json()["characters"] == len(program)


@pytest.mark.parametrize(
    ("name", "status", "kind"),
    [("breaks", 500, "internal"), ("exit", 503, "busy"), ("hoard", 413, "too-large"), ("fails", 422, "invalid")],
)
def test_a_proof_that_comes_to_nothing_says_why(client, name, status, kind):
    answer = client.post("/api/prove", json={"job": job(name), "program": "M2"})
    told = answer.json()
    assert (answer.status_code, told["type"]) == (status, f"/problems/{kind}")
    assert "secret" not in answer.text and ("retry-after" in answer.headers) == (status == 503)
    if status == 422:
        allowed = "the blank has no length: give it one"
        assert told["errors"] == [{"pointer": "/job/blank/length_mm", "given": None, "allowed": allowed}]


def test_who_leaves_before_the_end_keeps_no_worker_busy(app, client):
    known = set(app.state.house.planners.desk.tasks)
    with pytest.raises(httpx.ReadTimeout):
        client.post("/api/prove", json={"job": job("polite"), "program": "M2"}, timeout=httpx.Timeout(30, read=0.5))
    (asked,) = (task for name, task in app.state.house.planners.desk.tasks.items() if name not in known)
    while asked.state in ("queued", "running"):
        time.sleep(0.02)
    assert asked.state == "cancelled"
