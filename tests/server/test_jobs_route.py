"""Stored jobs over HTTP: entity tags, preconditions, revisions."""

import pytest

from tests.server.conftest import job


@pytest.fixture
def stored(client):
    return client.post("/api/jobs", json=job("first"))


def test_stored_and_read(client, stored):
    told = stored.json()
    assert stored.status_code == 201 and stored.headers["location"] == f"/api/jobs/{told['id']}"
    assert told["job"] == job("first") and told["revision"] == 1
    read = client.get(stored.headers["location"])
    assert read.json() == told and read.headers["etag"] == stored.headers["etag"]
    etag = stored.headers["etag"]
    for tags in (etag, f'"other", {etag}', f"W/{etag}", "*"):
        unchanged = client.get(stored.headers["location"], headers={"If-None-Match": tags})
        assert unchanged.status_code == 304 and unchanged.content == b""
    assert client.get(stored.headers["location"], headers={"If-None-Match": '"other"'}).status_code == 200
    assert told["id"] in [each["id"] for each in client.get("/api/jobs").json()["items"]]


def test_an_overwrite_says_what_it_follows(client, stored):
    at, etag = stored.headers["location"], stored.headers["etag"]
    assert client.put(at, json=job("x")).status_code == 428
    for wrong in ("*", '"1-00000000"', "W/" + etag, etag.strip('"'), etag + ", " + etag):
        answer = client.put(at, json=job("x"), headers={"If-Match": wrong})
        assert answer.status_code == 412, wrong
    saved = client.put(at, json=job("second"), headers={"If-Match": etag})
    assert saved.status_code == 200 and saved.json()["revision"] == 2
    stale = client.put(at, json=job("x"), headers={"If-Match": etag})
    assert stale.status_code == 412 and stale.headers["etag"] == saved.headers["etag"]
    assert client.get(at).json()["name"] == "second"


def test_every_save_can_be_restored(client, stored):
    at, etag = stored.headers["location"], stored.headers["etag"]
    etag = client.put(at, json=job("second"), headers={"If-Match": etag}).headers["etag"]
    assert [(r["revision"], r["name"]) for r in client.get(f"{at}/revisions").json()["items"]] == [
        (2, "second"),
        (1, "first"),
    ]
    assert client.get(f"{at}/revisions/1").json()["job"] == job("first")
    assert client.post(f"{at}/revisions/1/restore").status_code == 428
    restored = client.post(f"{at}/revisions/1/restore", headers={"If-Match": etag})
    assert restored.status_code == 200 and restored.json()["revision"] == 3 and restored.json()["name"] == "first"
    for revision in ("9", "0", str(1 << 70)):
        assert client.get(f"{at}/revisions/{revision}").status_code == 404
    assert client.get(f"{at}/revisions/x").status_code == 422


def test_deleted(client, stored):
    at, etag = stored.headers["location"], stored.headers["etag"]
    assert client.delete(at).status_code == 428
    assert client.delete(at, headers={"If-Match": '"9-0"'}).status_code == 412
    assert client.delete(at, headers={"If-Match": etag}).status_code == 204
    for answer in (client.get(at), client.get(f"{at}/revisions"), client.delete(at, headers={"If-Match": etag})):
        assert answer.status_code == 404
    assert client.put(at, json=job(), headers={"If-Match": etag}).status_code == 404


def test_planned_as_stored(client, stored):
    answer = client.post(f"{stored.headers['location']}/plan", headers={"Prefer": "wait=20"})
    assert answer.status_code == 200 and answer.json()["state"] == "done"
    assert client.post("/api/jobs/nothing/plan").status_code == 404
