"""HEAD: every address answers it as it answers GET, without the body. Source: RFC 9110 section 9.3.2."""

import re
import socket

import pytest

from tests.server.conftest import job
from tests.server.test_plans_route import planned


@pytest.fixture(scope="module")
def names(client):
    """What stands in the addresses' places; of `name` there is no entry, and HEAD says so as GET does."""
    stored = client.post("/api/jobs", json=job("head")).json()
    return {"plan": planned(client, "head")["id"], "job": stored["id"], "revision": "1", "name": "head"}


def test_head_is_answered_as_get_is_on_every_address(client, names, asset):
    paths = client.get("/api/openapi.json").json()["paths"]
    told = [
        path for path, methods in paths.items() if "get" in methods and not path.endswith("/sheet")
    ]  # no stand-in's
    assert len(told) > 10
    for path in ["/", "/api/openapi.json", "/static/js/main.js", "/api/plans/none", "/nowhere", *told]:
        address = re.sub(r"{(\w+)}", lambda found: {**names, "asset": asset}[found[1]], path)
        head, get = client.head(address), client.get(address)
        assert head.status_code == get.status_code and head.content == b"", address
        same = [{k: v for k, v in answer.headers.items() if k != "date"} for answer in (head, get)]
        assert same[0] == same[1], address
        assert client.get("/api/jobs").status_code == 200  # the line is good for what comes next
    assert client.head("/api/plan").status_code == 405


def test_the_head_of_a_stream_of_events_does_not_wait_for_its_end(client, port):
    plan = client.post("/api/plan", json=job("polite")).json()["id"]
    try:
        head = client.head(f"/api/plans/{plan}/events")
        assert head.status_code == 200 and head.headers["content-type"].startswith("text/event-stream")
        assert client.get(f"/api/plans/{plan}").json()["state"] in ("queued", "running")
    finally:
        client.delete(f"/api/plans/{plan}")


def test_nothing_follows_the_head(port):
    with socket.create_connection(("127.0.0.1", port), 10) as line:
        line.sendall(f"HEAD / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nConnection: close\r\n\r\n".encode())
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    head, end, body = answer.partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.1 200") and end and body == b""
    assert re.search(rb"content-length: [1-9]", head)
