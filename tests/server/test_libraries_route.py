"""The shop's own libraries over HTTP, and that a job can name what stands in them."""

import pytest

from tests.server.conftest import job

ENTRIES = {
    "tools": {"id": "ball 1", "form": "ball", "diameter_mm": 1.0},
    "machines": {"name": "bench #2 50%?", "feed_rule": "all-axes"},
    "materials": {"name": "dried gourd", "feed_mm_min": 300.0, "note": "thin near the neck"},
}


@pytest.mark.parametrize("shelf", ENTRIES)
def test_an_entry_lives_and_dies(client, shelf):
    entry = ENTRIES[shelf]
    added = client.post(f"/api/{shelf}", json=entry)
    assert added.status_code == 201 and added.json() == entry
    at, etag = added.headers["location"], added.headers["etag"]
    assert client.post(f"/api/{shelf}", json=entry).status_code == 409
    assert client.get(at).json() == entry and entry in client.get(f"/api/{shelf}").json()["items"]
    assert client.put(at, json=entry).status_code == 428
    saved = client.put(at, json=entry, headers={"If-Match": etag})
    assert saved.status_code == 200
    assert client.put(at, json=entry, headers={"If-Match": etag}).status_code == 412
    assert client.delete(at, headers={"If-Match": saved.headers["etag"]}).status_code == 204
    assert client.get(at).status_code == 404


WRONG = [
    ("tools", {"form": "ball"}, "/id"),
    ("tools", {"id": "a", "form": "drill"}, "/form"),
    ("tools", {"id": "a", "diameter_mm": -1}, "/diameter_mm"),
    ("tools", {"id": "a/b"}, "/id"),
    ("tools", [], ""),
    ("machines", {"feed_rule": "all-axes"}, "/name"),
    ("machines", {"name": "default"}, "/name"),
    ("machines", {"name": "a", "profile": "b"}, "/profile"),
    ("machines", {"name": "a", "axes": {"rotary": {"letter": "AB"}}}, "/axes/rotary/letter"),
    ("machines", {"name": "a", "approach_mm": 5}, "/approach_mm"),
    ("materials", {"name": "a", "feed_mm_min": "fast"}, "/feed_mm_min"),
    ("materials", {"name": "a", "colour": "brown"}, "/colour"),
    ("materials", {"name": 5}, "/name"),
]


@pytest.mark.parametrize(("shelf", "entry", "pointer"), WRONG)
def test_a_wrong_entry_is_told_by_its_pointer(client, shelf, entry, pointer):
    answer = client.post(f"/api/{shelf}", json=entry)
    assert answer.status_code == 422, answer.text
    assert pointer in [error["pointer"] for error in answer.json()["errors"]]
    assert client.get(f"/api/{shelf}").json()["items"] == []


def test_a_job_names_them(client):
    named = job(machine="bench lathe 2")
    assert client.post("/api/jobs", json=named).status_code == 422
    added = client.post("/api/machines", json={"name": "bench lathe 2"})
    assert client.post("/api/jobs", json=named).status_code == 201
    client.delete(added.headers["location"], headers={"If-Match": added.headers["etag"]})
