"""Plans over HTTP: asked for, followed, cancelled, taken home."""

import json
import struct
import time

import numpy as np
import pytest

from tests.server.conftest import job
from tests.server.stand_in import PROGRAM


def planned(client, name="a float", code=200, **change):
    answer = client.post("/api/plan", json=job(name, **change), headers={"Prefer": "wait=20"})
    assert answer.status_code == code, answer.text
    return answer.json()


def events(client, plan):
    with client.stream("GET", f"/api/plans/{plan}/events") as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        for line in answer.iter_lines():
            if line.startswith("data: "):
                yield json.loads(line[6:])


def test_accepted_then_done(client):
    answer = client.post("/api/plan", json=job("accepted"))
    plan = answer.json()
    assert answer.status_code == 202 and answer.headers["location"] == f"/api/plans/{plan['id']}"
    assert plan["state"] in ("queued", "running", "done")
    *_, last = events(client, plan["id"])
    assert last == client.get(f"/api/plans/{plan['id']}").json()
    assert (last["state"], last["progress"], last["report"]["strokes"]) == ("done", 1.0, 1)


def test_waited_for(client):
    answer = client.post("/api/plan", json=job("waited"), headers={"Prefer": "respond-async, wait=20"})
    assert answer.status_code == 200 and answer.json()["state"] == "done"
    assert answer.headers["preference-applied"] == "wait=20"
    for written in ('wait="20"', "wait=99999999"):
        again = client.post("/api/plan", json=job("waited"), headers={"Prefer": written})
        assert again.status_code == 200 and again.json()["state"] == "done"
    slow = client.post("/api/plan", json=job("polite"), headers={"Prefer": "wait=0"})
    assert slow.status_code == 202 and "preference-applied" not in slow.headers
    client.delete(f"/api/plans/{slow.json()['id']}")


@pytest.mark.parametrize("prefer", ["wait=-1", "wait=", "wait=soon", "wait=1.5", 'wait="5'])
def test_a_wait_is_a_whole_number(client, prefer):
    answer = client.post("/api/plan", json=job(), headers={"Prefer": prefer})
    assert answer.status_code == 400 and answer.json()["errors"][0]["parameter"]["name"] == "Prefer"


def test_the_plan_gets_its_assets(client, asset):
    art = {"asset": asset, "placement": {"x_mm": 45}, "depth_mm": 0.2}
    assert len(planned(client, "with art", artwork=[art])["report"]["assets"]) == 1


def test_followed_and_cancelled(client):
    plan = client.post("/api/plan", json=job("polite")).json()["id"]
    seen = []
    for event in events(client, plan):
        seen.append(event)
        if event["stage"] == "proof" and event["state"] == "running":
            assert client.delete(f"/api/plans/{plan}").json()["state"] == "cancelled"
    assert [event["state"] for event in seen][-1] == "cancelled"
    assert seen == sorted(seen, key=lambda event: event["progress"])
    for what in ("program", "strokes", "proof.png", "difference.png", "sheet"):
        assert client.get(f"/api/plans/{plan}/{what}").status_code == 409
    assert client.delete(f"/api/plans/{plan}").status_code == 200


def test_a_deaf_plan_is_cancelled_too(client):
    plan = client.post("/api/plan", json=job("spin")).json()["id"]
    while client.get(f"/api/plans/{plan}").json()["stage"] != "proof":
        time.sleep(0.02)
    assert client.delete(f"/api/plans/{plan}").json()["state"] == "cancelled"
    assert planned(client, "after the deaf one")["state"] == "done"


def test_the_program_as_text(client):
    plan = planned(client, "Kürbis: № 7 / <b>")["id"]
    for kind in ("engrave", "air", "walk"):
        answer = client.get(f"/api/plans/{plan}/program", params={"kind": kind})
        assert answer.content == PROGRAM and answer.headers["content-type"] == "text/plain; charset=us-ascii"
        name = f"kurbis-no-7-b-{kind}-ABCD-2345.ngc"
        assert answer.headers["content-disposition"] == f"attachment; filename=\"{name}\"; filename*=UTF-8''{name}"
        assert answer.headers["roundwright-check-code"] == "ABCD-2345"


def test_going_on_from_a_stroke(client):
    plan = planned(client, "resumed")["id"]
    answer = client.get(f"/api/plans/{plan}/program", params={"from_stroke": 2})
    assert answer.content == b"(rest)\n" + PROGRAM and "from-2" in answer.headers["content-disposition"]
    for params in ({"from_stroke": 9}, {"from_stroke": 0}, {"from_stroke": "x"}, {"kind": "air", "from_stroke": 2}):
        answer = client.get(f"/api/plans/{plan}/program", params=params)
        assert answer.status_code == 422 and answer.json()["errors"][0]["parameter"]["name"] == "from_stroke"
    assert client.get(f"/api/plans/{plan}/program", params={"kind": "x"}).status_code == 422
    answer = client.get(f"/api/plans/{plan}/program", params={"from_stroke": 3})
    assert answer.status_code == 409 and answer.json()["detail"] == "no program goes on from there"
    assert answer.json()["findings"][0]["severity"] == "error"


def test_findings_forbid_a_program(client):
    plan = planned(client, "forbidden")
    answer = client.get(f"/api/plans/{plan['id']}/program")
    assert answer.status_code == 409
    assert answer.json()["findings"] == plan["report"]["findings"] != []
    assert client.get(f"/api/plans/{plan['id']}/strokes").status_code == 200


def test_a_plan_that_cuts_nothing_says_so(client):
    plan = planned(client, "empty")
    answer = client.get(f"/api/plans/{plan['id']}/program")
    assert answer.status_code == 409 and answer.json()["detail"] == "Nothing is cut."
    assert answer.json()["findings"] == plan["report"]["findings"] != []


def test_a_failed_plan_tells_why(client):
    plan = planned(client, "fails")
    (finding,) = plan["report"]["findings"]
    assert plan["state"] == "failed" and plan["error"]["type"] == "FaultyError"
    assert (finding["code"], finding["where"]) == ("faulty-error", {"pointer": "/blank/length_mm"})
    answer = client.get(f"/api/plans/{plan['id']}/program")
    assert answer.status_code == 409 and answer.json()["findings"] == [finding]
    broken = planned(client, "breaks")
    assert broken["state"] == "failed" and "secret" not in json.dumps(broken)


def unpacked(body):
    """The arrays as the page reads them."""
    (length,) = struct.unpack_from("<I", body)
    head = json.loads(body[4 : 4 + length])
    start = 4 + length
    assert start % 8 == 0
    arrays = {}
    for entry in head["arrays"]:
        assert entry["at"] % 8 == 0 and entry["dtype"] in ("<f4", "<u4", "<u2", "<u1", "<i4")
        count = int(np.prod(entry["shape"], dtype=int))
        flat = np.frombuffer(body, entry["dtype"].replace("<u1", "u1"), count, start + entry["at"])
        arrays[entry["name"]] = flat.reshape(entry["shape"])
    return head["meta"], arrays


def test_what_the_previews_draw(client):
    plan = planned(client, "drawn")["id"]
    answer = client.get(f"/api/plans/{plan}/strokes")
    assert answer.headers["content-type"] == "application/vnd.roundwright.arrays"
    assert answer.headers["roundwright-complete"] == "true"
    meta, arrays = unpacked(answer.content)
    plain = client.get(f"/api/plans/{plan}/strokes", headers={"Accept": "application/json"}).json()
    assert plain == {"meta": meta, "arrays": {name: array.tolist() for name, array in arrays.items()}}
    assert arrays["seam"].tolist() == [-1, 5] and set(arrays) == {"skin_x", "move_kind", "seam"}
    for picture in ("proof.png", "difference.png"):
        assert client.get(f"/api/plans/{plan}/{picture}").content == b"\x89PNG"


def test_drawn_before_the_end(client):
    plan = client.post("/api/plan", json=job("polite")).json()["id"]
    while (answer := client.get(f"/api/plans/{plan}/strokes")).status_code == 409:
        time.sleep(0.02)
    _, arrays = unpacked(answer.content)
    assert answer.headers["roundwright-complete"] == "false"
    assert arrays["skin_x"].tolist() == [0, 1, 2, 3]
    assert client.get(f"/api/plans/{plan}/program").status_code == 409
    client.delete(f"/api/plans/{plan}")


@pytest.mark.parametrize("path", ["", "/events", "/program", "/strokes", "/proof.png", "/difference.png", "/sheet"])
def test_no_such_plan(client, path):
    assert client.get(f"/api/plans/nothing{path}").status_code == 404


def test_too_many_at_once_are_turned_away(client):
    plans, codes = [], []
    for n in range(12):
        answer = client.post("/api/plan", json=job("polite", blank={**job()["blank"], "length_mm": 50 + n}))
        codes.append(answer.status_code)
        if answer.status_code == 202:
            plans.append(answer.json()["id"])
        else:
            assert 1 <= int(answer.headers["retry-after"]) <= 600
    assert set(codes) == {202, 429}
    for plan in plans:
        client.delete(f"/api/plans/{plan}")


WRONG = {
    "/": [],
    "/schema": job(schema="roundwright.job/2"),
    "/name": {**job(), "name": 5},
    "/extra": job(extra=1),
    "/blank/diameter_mm": job(blank={**job()["blank"], "diameter_mm": "40"}),
    "/blank/length_mm": job(blank={**job()["blank"], "length_mm": 10_001}),
    "/blank/keep_out/0/to_mm": job(blank={**job()["blank"], "keep_out": [{"from_mm": 2, "to_mm": 1}]}),
    "/artwork/0/asset": job(artwork=[{"asset": "0" * 64, "placement": {"x_mm": 1}, "depth_mm": 0.1}]),
    "/artwork/0/depth_mm": job(artwork=[{"asset": "0" * 64, "placement": {"x_mm": 1}, "depth_mm": True}]),
    "/artwork/0/placement/x_mm": job(artwork=[{"asset": "0" * 64, "placement": {}, "depth_mm": 1}]),
    "/machine": job(machine="nowhere"),
    "/machine/feed_rule": job(machine={"feed_rule": "x"}),
    "/machine/axes/axial/letter": job(machine={"axes": {"axial": {"letter": "Q"}}}),
}


@pytest.mark.parametrize("pointer", WRONG)
@pytest.mark.parametrize("route", ["/api/plan", "/api/jobs", "/api/prove"])
def test_a_wrong_document_is_told_by_its_pointer(client, pointer, route):
    document = WRONG[pointer]
    body = {"job": document, "program": "M2"} if route == "/api/prove" else document
    answer = client.post(route, json=body)
    assert answer.status_code == 422, answer.text
    problem = answer.json()
    assert {"type", "title", "status", "detail", "errors"} <= set(problem)
    below = "/job" if route == "/api/prove" else ""
    assert below + pointer.rstrip("/") in [error["pointer"] for error in problem["errors"]]
    assert not [error["pointer"] for error in problem["errors"] if error["pointer"].endswith(("-str", "Document"))]
    assert all(set(error) >= {"pointer", "given", "allowed"} for error in problem["errors"])


RAW = [
    b'{"schema": NaN}',
    b'{"a": 1, "a": 2}',
    b"{",
    b"",
    b"[" * 70 + b"]" * 70,
    b'{"name": "\\ud800"}',
    b"\xff",
    b"1e999",
]


@pytest.mark.parametrize("raw", RAW)
@pytest.mark.parametrize("route", ["/api/plan", "/api/jobs", "/api/prove", "/api/tools", "/api/machines"])
def test_what_is_no_strict_json_is_refused(client, route, raw):
    answer = client.post(route, content=raw, headers={"Content-Type": "application/json"})
    assert answer.status_code == 400, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
