"""Who may come in: hosts, origins, bodies, over a raw socket where a client library would mend the request."""

import socket

import httpx
import pytest

from server.headers import API, PAGE, STATIC
from tests.server.conftest import SVG, job


def raw(port, text, body=b""):
    """Status code of a request that is sent as it stands; 0 where the line is just closed."""
    with socket.create_connection(("127.0.0.1", port), 10) as line:
        line.sendall(text.replace("\n", "\r\n").encode("latin-1") + body)
        line.settimeout(10)
        answer = line.recv(65536)
    return int(answer.split(b" ", 2)[1]) if answer else 0


GOOD_HOSTS = ["127.0.0.1:PORT", "localhost:PORT", "LocalHost:PORT", "localhost.:PORT", "[::1]:PORT"]
BAD_HOSTS = [
    *("evil.test", "evil.test:PORT", "127.0.0.1", "127.0.0.1:1", "localhost.evil.test:PORT", "127.0.0.1@evil.test"),
    *("evil@127.0.0.1:PORT", "127.0.0.1:PORT:PORT", "127.0.0.1:PORT evil.test", "0.0.0.0:PORT", "[::2]:PORT"),
    *("", " ", "127.0.0.1:0PORT9", "2130706433:PORT", "127.1:PORT", "127.0.0.1:PORT/x", "*", "xn--:PORT", "\x00"),
]


@pytest.mark.parametrize("host", GOOD_HOSTS)
def test_our_own_names(port, host):
    assert raw(port, f"GET /api/jobs HTTP/1.1\nHost: {host}\nConnection: close\n\n".replace("PORT", str(port))) == 200


@pytest.mark.parametrize("host", BAD_HOSTS)
def test_other_names(port, host):
    code = raw(port, f"GET /api/jobs HTTP/1.1\nHost: {host}\nConnection: close\n\n".replace("PORT", str(port)))
    assert code in (400, 421)


@pytest.mark.parametrize(
    "head",
    [
        "GET /api/jobs HTTP/1.1\nConnection: close\n",
        "GET /api/jobs HTTP/1.1\nHost: 127.0.0.1:PORT\nHost: evil.test\nConnection: close\n",
        "GET /api/jobs HTTP/1.1\nHost: evil.test\nHost: 127.0.0.1:PORT\nConnection: close\n",
        "GET http://evil.test/api/jobs HTTP/1.1\nHost: 127.0.0.1:PORT\nConnection: close\n",
        "GET http://127.0.0.1:PORT/api/jobs HTTP/1.1\nHost: 127.0.0.1:PORT\nConnection: close\n",
        "GET /api/jobs HTTP/1.1\nHost: 127.0.0.1:PORT\nHost : 127.0.0.1:PORT\nConnection: close\n",
        "POST /api/jobs HTTP/1.1\nHost: 127.0.0.1:PORT\nTransfer-Encoding: chunked\nContent-Length: 5\n",
        "POST /api/jobs HTTP/1.1\nHost: 127.0.0.1:PORT\nContent-Length: -5\nConnection: close\n",
        "GET /api/jobs?" + "x" * 3000 + " HTTP/1.1\nHost: 127.0.0.1:PORT\nConnection: close\n",
    ],
)
def test_requests_that_are_no_plain_requests(port, head):
    assert raw(port, head.replace("PORT", str(port)) + "\n") == 400


ORIGINS = {
    "http://127.0.0.1:PORT": 201,
    "http://localhost:PORT": 403,  # ours, but not the Host of this request
    "http://127.0.0.1": 403,
    "https://127.0.0.1:PORT": 403,
    "http://evil.test": 403,
    "http://127.0.0.1:PORT.evil.test": 403,
    "null": 403,
    "": 403,
}


@pytest.mark.parametrize("origin", ORIGINS)
def test_an_origin_matches_the_host_exactly(client, port, origin):
    answer = client.post("/api/jobs", json=job(), headers={"Origin": origin.replace("PORT", str(port))})
    assert answer.status_code == ORIGINS[origin]


def test_a_cookie_without_an_origin_is_a_page_of_someone_else(client):
    assert client.post("/api/jobs", json=job(), headers={"Cookie": "a=b"}).status_code == 403
    assert client.get("/", headers={"Cookie": "a=b"}).status_code == 200


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_what_another_page_fetches_is_refused(client, site):
    assert client.get("/api/jobs", headers={"Sec-Fetch-Site": site}).status_code == 403
    assert client.get("/", headers={"Sec-Fetch-Site": site}).status_code == 200


def test_refused_requests_change_nothing(client):
    before = client.get("/api/jobs").json()
    for headers in ({"Origin": "http://evil.test"}, {"Cookie": "a=b"}, {"Host": "evil.test"}):
        assert client.post("/api/jobs", json=job(), headers=headers).status_code in (403, 421)
    assert client.get("/api/jobs").json() == before


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"])
@pytest.mark.parametrize("path", ["/api/jobs", "/api/plan", "/api/tools", "/api/prove"])
def test_only_json_is_taken(client, path, kind):
    assert client.post(path, content=b"{}", headers={"Content-Type": kind}).status_code == 415


def test_no_body_is_taken_packed(client):
    headers = {"Content-Type": "application/json", "Content-Encoding": "gzip"}
    assert client.post("/api/jobs", content=b"\x1f\x8b", headers=headers).status_code == 415


def test_too_large_whether_said_or_not(client):
    large = b'{"name": "' + b"x" * (2 << 20) + b'"}'
    headers = {"Content-Type": "application/json"}
    assert client.post("/api/jobs", content=large, headers=headers).status_code == 413
    assert client.post("/api/jobs", content=iter([large[:1000], large[1000:]]), headers=headers).status_code == 413


def test_a_chunked_upload_is_cut_at_its_limit(app, client):
    piece = b"x" * (1 << 20)
    body = (piece for _ in range(52))
    headers = {"Content-Type": "multipart/form-data; boundary=x"}
    try:
        code = client.post("/api/assets", content=body, headers=headers).status_code
    except httpx.WriteError:  # the line may be closed while we still send
        code = 413
    assert code in (400, 413)
    assert client.get("/api/jobs").status_code == 200


TABLES = {
    "/": (200, PAGE),
    "/static/app.css": (200, STATIC),
    "/static/no.css": (404, API),
    "/static/../app.py": (404, API),
    "/api/jobs": (200, API),
    "/api/nothing": (404, API),
    "/api/openapi.json": (200, API),
    "/docs": (404, API),
    "/redoc": (404, API),
}


@pytest.mark.parametrize("path", TABLES)
def test_every_answer_leaves_with_its_headers(client, path):
    code, table = TABLES[path]
    answer = client.get(path)
    assert answer.status_code == code
    assert {name: answer.headers.get(name) for name in table} == table
    assert not [name for name in answer.headers if name == "server" or name.startswith("access-control")]


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_a_wrong_method_is_a_problem(client, method):
    answer = client.request(method, "/api/plan")
    assert answer.status_code == 405
    assert answer.headers["content-type"] == "application/problem+json"
    assert "POST" in answer.headers["allow"]


@pytest.mark.parametrize(
    "path",
    [
        *(
            "/static/%2e%2e/%2e%2e/etc/passwd",
            "/static/..%2fapp.py",
            "/static/..%5c..%5cwin.ini",
            "/static//etc/passwd",
        ),
        *("/static/%00", "/api/assets/..%2f..%2froundwright.sqlite3", "/api/assets/%2e%2e", "/api/jobs/..%2f..%2fx"),
        *("/api/assets/" + "0" * 64, "/static/C:%5cwindows", "/api/plans/..%2fx/program"),
    ],
)
def test_no_path_leads_outside(client, path):
    answer = client.get(path)
    assert answer.status_code in (400, 404)
    assert answer.headers["content-type"] == "application/problem+json"


def test_an_upload_still_works_between_all_this(client):
    assert client.post("/api/assets", files={"file": ("a.svg", SVG)}).status_code == 201
