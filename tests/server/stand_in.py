"""A stand-in for the engine in the workers of tests: quick where it is honest, naughty where the job's name says so."""

import ctypes
import os
import signal
import socket
import time

import numpy as np

from server.workers.wire import BYTES

PLACES = {b"LINE": "line 15", b"TAG": "tag 7", b"FIELD": "/blank/asset", b"FILE": "file"}
PROGRAM = b"(a program)\nG21\nG90\nM2\n"


class FaultyError(Exception):
    """As the engine declares its own: with a place and a hint."""

    message, where, hint = "the blank has no length", "/blank/length_mm", "give it one"


def task(request, assets, *, tell):
    return DEEDS[request["do"]](request, assets, tell)


def plan(request, assets, tell):
    name = request["job"]["name"]
    tell("blank", 0.1, None)
    tell("proof", 0.7, {"skin_x": np.arange(4.0), "stroke_offset": np.array([0, 2], "<u4")})
    NAUGHTY.get(name, lambda tell: None)(tell)
    findings = []
    programs = {kind: {"check_code": "ABCD-2345", "sha256": "0" * 64} for kind in ("engrave", "air", "walk")}
    arrays = {"skin_x": np.arange(4.0), "move_kind": np.array([3, 1, 0], np.uint8), "seam": np.array([-1, 5])}
    if name == "forbidden":
        findings = [{"severity": "error", "code": "wall", "message": "too deep", "where": {}, "advice": ""}]
        programs = {}
    if name == "empty":
        findings = [{"severity": "note", "code": "nothing-to-cut", "message": "nothing is cut", "where": {}}]
        programs = {}
    arrays |= {BYTES + kind: np.frombuffer(PROGRAM, np.uint8) for kind in programs}
    arrays |= {BYTES + name: np.frombuffer(b"\x89PNG", np.uint8) for name in ("picture", "difference")}
    report = {"findings": findings, "strokes": 1, "assets": sorted(len(data) for data in assets.values())}
    return {"report": report, "meta": {"arts": []}, "sheet": {"job": name}, "programs": programs}, arrays


def resume(request, assets, tell):
    if request["from_stroke"] > 3:
        words = {"message": "there is no such stroke", "where": "from_stroke", "hint": "1 to 3"}
        raise type("ProgramError", (Exception,), words)
    if request["from_stroke"] == 3:
        words = {"message": "no program goes on from there", "where": "", "hint": "an earlier stroke"}
        raise type("ProgramError", (Exception,), words)
    return {"check_code": "REST-2345"}, {BYTES + "engrave": np.frombuffer(b"(rest)\n" + PROGRAM, np.uint8)}


def prove(request, assets, tell):
    NAUGHTY.get(request["job"]["name"], lambda tell: None)(tell)
    return {"findings": [], "characters": len(request["program"])}, {}


def look(request, assets, *, tell):
    (data,) = assets.values()
    if data.startswith(b"SLEEP"):
        time.sleep(20)
    if data.startswith(b"CRASH"):
        os._exit(1)
    if not data.startswith(b"<svg"):
        error = {b"BIG": "TooBigError", b"x_m": "BlankError"}.get(data[:3], "NotArtworkError")
        told = {"message": "not artwork", "where": PLACES.get(data, ""), "hint": "send a picture"}
        raise type(error, (Exception,), told)
    return [{"kind": "vector", "media_type": "image/svg+xml", "width": 12.0, "height": 8.0, "has_size": True}], {}


def spin(tell, most_s=60.0):
    """Deaf to a cancel: it tells nothing and ignores what it can."""
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGXCPU):
        signal.signal(number, signal.SIG_IGN)
    end_s = time.perf_counter() + most_s
    while time.perf_counter() < end_s:
        pass


def polite(tell):
    for _ in range(2000):
        time.sleep(0.01)
        tell("proof", 0.8, None)


def hoard(tell):
    held = []
    while True:
        held.append(np.ones(4 << 20))


def nonsense(tell):
    for number in range(3, 12):  # finds its way to the frames' pipe and writes rubbish
        try:
            os.write(number, b'{"kind": NaN}\n')
        except OSError:
            continue
    time.sleep(60)


def forks(tell):
    if os.fork() == 0:
        time.sleep(60)
    os._exit(1)


def fails(tell):
    raise FaultyError


def breaks(tell):
    raise KeyError("a secret of the house")


def writes_outside(tell):
    with open("../written-outside", "w") as file:
        file.write("x")


def connects(tell):
    socket.create_connection(("127.0.0.1", 9), 2).close()


NAUGHTY = {
    "segfault": lambda tell: ctypes.string_at(0),
    "exit": lambda tell: os._exit(3),
    "stop": lambda tell: os.kill(os.getpid(), signal.SIGSTOP),
    "spin": spin,
    "polite": polite,
    "short": lambda tell: spin(tell, 0.3),
    "hoard": hoard,
    "nonsense": nonsense,
    "forks": forks,
    "fails": fails,
    "breaks": breaks,
    "writes outside": writes_outside,
    "connects": connects,
    "litters": lambda tell: open("left.txt", "w").close(),
}


def picture(request, assets, tell):
    return {}, {BYTES + "picture": np.frombuffer(b"\x89PNG", np.uint8)}


def paper(request, assets, tell):
    return {}, {BYTES + "paper": np.frombuffer(b"%PDF", np.uint8)}


def card(request, assets, tell):
    return {"steps": [{"asked": 0.0, "measured": 0.0}] * request["body"]["steps"]}, {}


DEEDS = {"picture": picture, "card": card, "paper": paper, "plan": plan, "resume": resume, "prove": prove}
