"""The phone's door: it lets one phone bring photographs, nobody else, nothing else, and it closes."""

import contextlib
import json
import re
import socket
import threading
import time

import httpx
import pytest
import segno

from server.headers import API, PAGE
from server.phone import PhoneLimits, Session, address
from server.settings import Limits
from server.store import Asset
from tests.server.conftest import job, refused, serving, settings_in

JPEG = b"\xff\xd8\xff\xe0 a float turned by "
PNG = b"\x89PNG\r\n\x1a\n a float"
ANGLES = [0, 40, 80.5]
MOST = 50_000


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    change = {"looker": "tests.server.phone_looker:look", "limits": Limits(upload_bytes=MOST, heartbeat_s=0.2)}
    with serving(settings_in(tmp_path_factory.mktemp("phone"), **change)) as app:
        yield app


@pytest.fixture(scope="module")
def bench(app):
    with httpx.Client(base_url=f"http://127.0.0.1:{app.state.house.settings.port}", timeout=30) as client:
        yield client


@pytest.fixture
def opened(bench):
    """The answer to opening a door on this machine alone."""
    answer = bench.post("/api/measure/phone", json={"angles_deg": ANGLES, "address": "127.0.0.1"})
    assert answer.status_code == 201, answer.text
    yield answer.json()
    bench.delete("/api/measure/phone")


@pytest.fixture
def phone(opened):
    """A client whose base is the token's address, with the Origin that a browser sends."""
    with httpx.Client(base_url=opened["url"], timeout=30, headers={"Origin": origin_of(opened)}) as client:
        yield client


def origin_of(opened):
    return re.match(r"http://[^/]+", opened["url"])[0]


def jpeg(text="", **headers):
    return {"content": JPEG + text.encode(), "headers": {"Content-Type": "image/jpeg", **headers}}


def state_of(bench):
    return bench.get("/api/measure/phone").json()


def test_what_opening_tells(opened, bench):
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/p/[A-Za-z0-9_-]{43}", opened["url"])  # 32 bytes in base64url
    assert opened["qr_svg"].lstrip().startswith("<?xml") and "<path" in opened["qr_svg"]
    assert opened["open"] and not opened["seen"]
    assert opened["photographs"] == [
        {"number": n, "angle_deg": a, "asset": None} for n, a in enumerate(map(float, ANGLES), 1)
    ]
    assert state_of(bench) == opened


def test_a_photograph_arrives_as_an_asset_and_an_event(bench, app, phone):
    heard = []

    def listen():
        with bench.stream("GET", "/api/measure/phone/events") as stream:
            assert stream.headers["content-type"].startswith("text/event-stream")
            for line in stream.iter_lines():
                if line.startswith("data:"):
                    heard.append(json.loads(line[5:]))

    listening = threading.Thread(target=listen)
    listening.start()
    assert phone.get("").status_code == 200
    answer = phone.post("/photo/2", **jpeg("40"))
    assert answer.status_code == 201
    assert answer.json() == {"angles_deg": ANGLES, "taken": [False, True, False]}
    assert phone.get("/state").json() == answer.json()
    asset = state_of(bench)["photographs"][1]["asset"]
    assert app.state.house.assets.read(asset["id"]) == JPEG + b"40"
    assert (asset["kind"], asset["media_type"]) == ("raster", "image/jpeg")
    assert bench.get(f"/api/assets/{asset['id']}").content == JPEG + b"40"
    bench.delete("/api/measure/phone")
    listening.join(10)
    assert not listening.is_alive(), "the events did not end with the door"
    assert [one["seq"] for one in heard] == sorted({one["seq"] for one in heard})
    assert any(one["photographs"][1]["asset"] == asset for one in heard)
    assert heard[-1]["open"] is False


def test_a_form_is_taken_too(bench, phone):
    answer = phone.post("/photo/1", files={"picture": ("IMG_1.png", PNG, "image/png")})
    assert answer.status_code == 201
    assert state_of(bench)["photographs"][0]["asset"]["media_type"] == "image/png"


def test_of_two_pictures_of_one_number_the_last_counts(app, bench, phone, opened):
    first = threading.Thread(target=lambda: phone.post("/photo/1", **jpeg("SLOW")))
    first.start()
    while app.state.phone.session.begun == 0:
        first.join(0.01)
    with httpx.Client(base_url=opened["url"], headers={"Origin": origin_of(opened)}, timeout=30) as other:
        assert other.post("/photo/1", **jpeg("again")).status_code == 201
    first.join(20)
    asset = state_of(bench)["photographs"][0]["asset"]
    assert app.state.house.assets.read(asset["id"]) == JPEG + b"again"
    assert phone.post("/photo/1", **jpeg("third")).status_code == 201
    asset = state_of(bench)["photographs"][0]["asset"]
    assert app.state.house.assets.read(asset["id"]) == JPEG + b"third"


def test_a_late_first_picture_does_not_undo_the_second():
    def asset(name):
        return Asset(id=name, kind="raster", media_type="image/png", bytes=1, facts={})

    session = Session([0.0])
    early, late = session.begin(), session.begin()
    session.keep(1, late, asset("late"))
    session.keep(1, early, asset("early"))
    assert session.for_bench()["photographs"][0]["asset"]["id"] == "late"


MAIN_PATHS = [
    *("/", "/api/jobs", "/api/plan", "/api/prove", "/api/assets", "/api/assets/" + "0" * 64, "/api/tools"),
    *("/api/machines", "/api/materials", "/api/openapi.json", "/api/measure/phone", "/api/measure/phone/events"),
    *("/static/app.css", "/static/js/main.js", "/static/js/phone.js", "/docs", "/favicon.ico", "/p", "/p/", "/p/x"),
    *("/p/TOKEN/../../api/jobs", "/p/TOKEN/photo", "/p/TOKEN/photo/0", "/p/TOKEN/photo/4", "/p/TOKEN/photo/01"),
    *("/p/TOKEN/static/app.css", "/p/TOKEN/phone.html", "/p/TOKEN/../TOKEN/state", "/p/TOKEN/api/jobs", "/p//state"),
    *("/p/TOKEN%00", "/p/TOKEN/%2e%2e/state", "/%2fapi/jobs", "//api/jobs"),
]


@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE"])
def test_nothing_of_the_main_server_is_reachable(bench, opened, method):
    port = int(opened["url"].split(":")[2].split("/")[0])
    token = opened["url"].rsplit("/", 1)[1]
    for path in MAIN_PATHS:
        target = path.replace("TOKEN", token)
        code, body = raw(port, method, target, Origin=origin_of(opened))
        assert code == 404 or (method != "POST" and code == 405 and "/photo/" in path), (target, code)
        assert b"application/problem+json" in body
    assert raw(port, "POST", "/api/jobs", json.dumps(job()).encode(), Origin=origin_of(opened))[0] == 404
    assert bench.get("/api/jobs").json()["items"] == []


def raw(port, method, target, body=b"", **headers):
    """(status, the whole answer) of a request that is sent as it stands."""
    given = {"Host": f"127.0.0.1:{port}", "Connection": "close", "Content-Length": len(body), **headers}
    head = "".join(f"{name.replace('_', '-')}: {value}\r\n" for name, value in given.items() if value is not None)
    with socket.create_connection(("127.0.0.1", port), 10) as line:
        line.sendall(f"{method} {target} HTTP/1.1\r\n{head}\r\n".encode("latin-1") + body)
        line.settimeout(10)
        answer = b""
        with contextlib.suppress(ConnectionResetError):
            while piece := line.recv(65536):
                answer += piece
    return int(answer.split(b" ", 2)[1]) if answer else 0, answer


def test_a_wrong_token(opened, bench, phone):
    token = opened["url"].rsplit("/", 1)[1]
    for wrong in (token[:-1], token + "A", token.swapcase(), "A" * 43, token[:-1] + chr(ord(token[-1]) ^ 1)):
        url = opened["url"].replace(token, wrong)
        assert httpx.get(url).status_code == 404
        sent = httpx.post(f"{url}/photo/1", **jpeg(Origin=origin_of(opened)))
        assert sent.status_code == 404
    assert [one["asset"] for one in state_of(bench)["photographs"]] == [None] * 3


@pytest.mark.parametrize("host", ["evil.test", "evil.test:PORT", "localhost:PORT", "127.0.0.1", "127.0.0.1:1", "x y"])
def test_a_foreign_host(opened, host):
    port = int(opened["url"].split(":")[2].split("/")[0])
    target = opened["url"].split(str(port))[1]
    assert raw(port, "GET", target, Host=host.replace("PORT", str(port)))[0] in (400, 421)
    assert raw(port, "GET", target)[0] == 200


@pytest.mark.parametrize("origin", ["http://evil.test", "null", "", None, "https://127.0.0.1:PORT", "http://127.0.0.1"])
def test_a_foreign_origin_brings_nothing(opened, bench, origin):
    port = int(opened["url"].split(":")[2].split("/")[0])
    target = opened["url"].split(str(port))[1] + "/photo/1"
    kind = {"Content_Type": "image/jpeg"}
    given = origin and origin.replace("PORT", str(port))
    assert raw(port, "POST", target, JPEG, Origin=given, **kind)[0] == 403
    assert raw(port, "POST", target, JPEG, Origin=origin_of(opened), Sec_Fetch_Site="cross-site", **kind)[0] == 403
    assert [one["asset"] for one in state_of(bench)["photographs"]] == [None] * 3
    assert raw(port, "POST", target, JPEG, Origin=origin_of(opened), Sec_Fetch_Site="same-origin", **kind)[0] == 201


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"<svg/>", "image/svg+xml"),
        (b"<svg/>", "image/jpeg"),
        (JPEG, "text/plain"),
        (JPEG, "image/heic"),
        (JPEG, ""),
        (b"", "image/jpeg"),
        (JPEG + b"CUT", "image/jpeg"),
        (b"x_mm,angle_deg", "application/octet-stream"),
    ],
)
def test_the_wrong_kind(phone, bench, content, kind):
    answer = phone.post("/photo/1", content=content, headers={"Content-Type": kind})
    assert answer.status_code == 415 and answer.headers["content-type"] == "application/problem+json"
    assert state_of(bench)["photographs"][0]["asset"] is None


def test_a_broken_form(phone):
    for content, kind, code in (
        (b"rubbish", "multipart/form-data; boundary=x", (400, 415)),
        (b"rubbish", "multipart/form-data", (400,)),
        (
            b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\nb\r\n--x--\r\n',
            "multipart/form-data; boundary=x",
            (415,),
        ),
    ):
        assert phone.post("/photo/1", content=content, headers={"Content-Type": kind}).status_code in code


def test_too_large_whether_said_or_not(phone, bench):
    large = JPEG + b"x" * MOST
    kind = {"Content-Type": "image/jpeg"}
    for content in (large, iter([large[:30_000], large[30_000:]])):
        try:
            assert phone.post("/photo/1", content=content, headers=kind).status_code == 413
        except httpx.WriteError:  # the line may be closed while we still send
            continue
    assert state_of(bench)["photographs"][0]["asset"] is None


def test_its_answers_leave_with_their_headers(phone):
    for path, table in (("", PAGE), ("/phone.css", API), ("/phone.js", API), ("/state", API), ("/nothing", API)):
        answer = phone.get(path)
        assert {name: answer.headers.get(name) for name in table} == table, path
        assert not [name for name in answer.headers if name == "server" or name.startswith("access-control")]
        assert phone.head(path).headers.get("content-type") == answer.headers["content-type"]
        assert phone.head(path).content == b""
    answer = phone.get("")
    assert "<script>" not in answer.text and "style=" not in answer.text
    assert not re.search(r"https?://", answer.text)


def test_another_method(phone):
    assert phone.get("/photo/1").status_code == 405 and phone.get("/photo/1").headers["allow"] == "POST"
    assert phone.post("/state").status_code == 405 and phone.delete("").status_code == 405


def test_it_closes_for_real(bench, opened, phone):
    port = int(opened["url"].split(":")[2].split("/")[0])
    assert phone.get("/state").status_code == 200  # a line that is kept open
    assert not refused(port)
    assert bench.delete("/api/measure/phone").status_code == 204
    assert refused(port)
    with pytest.raises(httpx.TransportError):
        phone.get("/state")
    assert state_of(bench) == {"open": False}
    assert bench.get("/api/measure/phone/events").status_code == 404
    assert bench.delete("/api/measure/phone").status_code == 204


def test_opening_anew_closes_the_one_before(bench, opened):
    port = int(opened["url"].split(":")[2].split("/")[0])
    again = bench.post("/api/measure/phone", json={"angles_deg": [0], "address": "127.0.0.1"}).json()
    assert refused(port) and again["url"] != opened["url"]
    assert httpx.get(again["url"]).status_code == 200


def test_an_idle_door_closes_itself(bench, app, monkeypatch):
    monkeypatch.setattr(app.state.phone, "_limits", PhoneLimits(idle_s=0.3))
    opened = bench.post("/api/measure/phone", json={"angles_deg": [0], "address": "127.0.0.1"}).json()
    port = int(opened["url"].split(":")[2].split("/")[0])
    while not refused(port):
        time.sleep(0.05)
    assert state_of(bench) == {"open": False}


def test_who_asks_too_often_waits(bench, app, monkeypatch):
    monkeypatch.setattr(app.state.phone, "_limits", PhoneLimits(strangers_burst=3, strangers_per_s=0.01, sent=2))
    opened = bench.post("/api/measure/phone", json={"angles_deg": [0], "address": "127.0.0.1"}).json()
    codes = [httpx.get(f"{origin_of(opened)}/p/{'A' * 43}").status_code for _ in range(5)]
    assert codes == [404, 404, 404, 429, 429]
    sent = [httpx.post(opened["url"] + "/photo/1", **jpeg(Origin=origin_of(opened))).status_code for _ in range(3)]
    assert sent == [201, 201, 429], "the phone suffers from strangers, or brings more than it may"


@pytest.mark.parametrize(
    "body",
    [
        [],
        {},
        {"angles_deg": []},
        {"angles_deg": list(range(73))},
        {"angles_deg": ["0"]},
        {"angles_deg": [True]},
        {"angles_deg": [0], "port": 80},
        {"angles_deg": [0], "address": "0.0.0.0"},
        {"angles_deg": [0], "address": "::"},
        {"angles_deg": [0], "address": "bench.test"},
        {"angles_deg": [0], "address": "198.51.100.7"},
        {"angles_deg": [0], "address": 7},
    ],
)
def test_what_cannot_be_opened_is_a_problem_and_leaves_the_open_one_alone(bench, opened, body):
    answer = bench.post("/api/measure/phone", json=body)
    assert answer.status_code == 422 and answer.json()["errors"], answer.text
    assert state_of(bench) == opened


def test_the_own_address_is_a_private_one_or_told(monkeypatch):
    told = []

    class Asking:
        def __init__(self, *_):
            pass

        def __enter__(self):
            return self

        def __exit__(self, *_):
            return None

        def connect(self, there):
            if told[-1] is None:
                raise OSError("unreachable")

        def getsockname(self):
            return (told[-1], 4000)

    monkeypatch.setattr(address.socket, "socket", Asking)
    for answers in ("192.168.4.20", "10.0.0.5", "172.20.3.4"):  # RFC 1918
        told.append(answers)
        assert address.lan_address() == answers
    for answers, words in ((None, "no network"), ("0.0.0.0", "no network"), ("8.8.4.4", "public")):
        told.append(answers)
        with pytest.raises(address.AddressError, match=words):
            address.lan_address()


def test_the_code_holds_the_address(opened):
    """Drawn again from its path and read module by module against the library's own matrix of the same text."""
    path = re.search(r'd="([^"]+)"', opened["qr_svg"].split("<path")[-1])[1]
    rows = [list(row) for row in segno.make(opened["url"], error="m", micro=False).matrix_iter(border=4)]
    drawn = [[0] * len(rows[0]) for _ in rows]
    x = y = 0.0
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", path):
        given = [float(one) for one in re.findall(r"-?[\d.]+", numbers)]
        if command == "h":
            for i in range(int(given[0])):
                drawn[int(y)][int(x) + i] = 1
            x += given[0]
        elif command == "M":
            x, y = given
        else:
            x, y = x + given[0], y + given[1]
    assert drawn == rows
