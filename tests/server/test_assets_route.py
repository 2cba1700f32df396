"""Uploads: kept once, told truly, refused without a trace, given back as they came."""

import hashlib
import os
import signal
import threading

import pytest

import engine
from tests.server.conftest import SVG


def test_kept_under_the_sha_256_of_the_bytes(client):
    first = client.post("/api/assets", files={"file": ("leaf.svg", SVG, "text/html")})
    again = client.post("/api/assets", files={"file": ("../../other.png", SVG)})
    assert first.status_code == again.status_code == 201 and first.json() == again.json()
    told = first.json()
    assert told["id"] == hashlib.sha256(SVG).hexdigest() and told["bytes"] == len(SVG)
    assert (told["kind"], told["media_type"], told["width"]) == ("vector", "image/svg+xml", 12.0)
    assert first.headers["location"] == f"/api/assets/{told['id']}"


def test_given_back_as_they_came_and_never_run(client, asset):
    answer = client.get(f"/api/assets/{asset}")
    assert answer.content == SVG and answer.headers["content-type"].startswith("image/svg+xml")
    assert answer.headers["content-disposition"].startswith("attachment;")
    assert "sandbox" in answer.headers["content-security-policy"]


@pytest.mark.parametrize(("data", "code"), [(b"rubbish", 415), (b"BIG", 413), (b"x_mm", 422), (b"", 415)])
def test_what_is_no_artwork_is_refused(client, app, data, code):
    answer = client.post("/api/assets", files={"file": ("a.svg", data)})
    assert answer.status_code == code, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert app.state.house.assets.find(hashlib.sha256(data).hexdigest()) is None


@pytest.mark.parametrize(
    ("data", "place"), [(b"LINE", "line 15: "), (b"TAG", "tag 7: "), (b"FIELD", ""), (b"FILE", "")]
)
def test_a_refused_file_is_told_where_it_is_at_fault(client, data, place):
    told = client.post("/api/assets", files={"file": ("a.dxf", data)}).json()
    assert told["detail"] == f"{place}not artwork (send a picture)"


def test_the_loss_of_the_worker_is_told_as_ours_and_passes(client, app):
    answer = client.post("/api/assets", files={"file": ("a.svg", b"CRASH")})
    assert answer.status_code == 503 and int(answer.headers["retry-after"]) > 0, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    sent = threading.Thread(target=lambda: answers.append(client.post("/api/assets", files={"file": ("a", b"SLEEP")})))
    answers, workers = [], app.state.house.lookers.workers
    sent.start()
    while not (busy := [worker for worker in list(workers.values()) if worker.state == "busy"]):
        sent.join(0.02)
    os.kill(busy[0].pid, signal.SIGKILL)
    sent.join(20)
    assert answers[0].status_code == 503 and "retry-after" in answers[0].headers
    assert client.post("/api/assets", files={"file": ("leaf.svg", SVG)}).status_code == 201


@pytest.mark.parametrize(
    "form",
    [
        {"data": {"file": "text"}, "files": {"other": ("a", b"b")}},
        {"files": [("file", ("a", SVG)), ("file", ("b", SVG))]},
        {"files": [("picture", ("a", SVG))]},
    ],
)
def test_a_form_holds_one_file(client, form):
    answer = client.post("/api/assets", **form)
    assert answer.status_code in (400, 422)
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_broken_form_is_a_problem(client):
    headers = {"Content-Type": "multipart/form-data; boundary=x"}
    for content in (b"--x\r\nrubbish", b"rubbish", b'--x\r\nContent-Disposition: form-data; name="file"\r\n\r\n'):
        answer = client.post("/api/assets", content=content, headers=headers)
        assert answer.status_code in (400, 422), answer.text
    assert client.post("/api/assets", content=b"x", headers={"Content-Type": "multipart/form-data"}).status_code == 400
    assert client.post("/api/assets").status_code == 415


@pytest.mark.parametrize("name", ["0" * 64, "x", "0" * 63, "A" * 64])
def test_no_such_asset(client, name):
    assert client.get(f"/api/assets/{name}").status_code == 404


def test_what_was_found_of_a_file_is_told_again(client, asset):
    told = client.get(f"/api/assets/{asset}/facts")
    assert told.status_code == 200
    assert told.json() == client.post("/api/assets", files={"file": ("leaf.svg", SVG)}).json()
    assert client.get(f"/api/assets/{'0' * 64}/facts").status_code == 404


def test_the_faces_for_lettering_are_those_of_the_engine(client):
    told = client.get("/api/faces").json()
    assert [one["name"] for one in told] == list(engine.FACES)
    assert {one["name"] for one in told if one["strokes"]} == set(engine.STROKE_FACES)
