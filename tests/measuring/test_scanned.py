"""Scans by way of their route and as a job's blank: the mesh of a known body, whatever its unit and however it lies."""

import struct

import numpy as np
import pytest

import engine
from engine.blank import sigma_at
from engine.kernel.errors import BlankError
from tests.measuring.ask import ask, problems, skin_of

STATIONS, ANGLES, LENGTH = 120, 180, 90.0


def radius(x, theta):
    return 24 + 6 * np.sin(x / 30) + 1.2 * np.cos(2 * theta - 0.4)


def closed_body():
    """Vertices and triangles of the skin with flat ends."""
    x, theta = np.linspace(0, LENGTH, STATIONS), np.arange(ANGLES) * 2 * np.pi / ANGLES
    r = radius(x[:, None], theta)
    skin = np.stack([np.broadcast_to(x[:, None], r.shape), r * np.cos(theta), r * np.sin(theta)], axis=-1).reshape(
        -1, 3
    )
    i, j = np.meshgrid(np.arange(STATIONS - 1), np.arange(ANGLES), indexing="ij")
    a, b = i * ANGLES + j, i * ANGLES + (j + 1) % ANGLES
    sides = np.concatenate([np.stack([a, b, b + ANGLES], -1), np.stack([a, b + ANGLES, a + ANGLES], -1)]).reshape(-1, 3)
    points = np.vstack([skin, [[0, 0, 0], [LENGTH, 0, 0]]])
    k = np.arange(ANGLES)
    low = np.stack([np.full(ANGLES, len(skin)), (k + 1) % ANGLES, k], -1)
    top = (STATIONS - 1) * ANGLES
    high = np.stack([np.full(ANGLES, len(skin) + 1), top + k, top + (k + 1) % ANGLES], -1)
    return points, np.concatenate([sides, low, high])


def stl(points, faces):
    rows = np.zeros(len(faces), np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")]))
    rows["corners"] = points[faces]
    return b"fair".ljust(80) + struct.pack("<I", len(faces)) + rows.tobytes()


POINTS, FACES = closed_body()
MESH = stl(POINTS, FACES)


def asked(**change):
    return {"asset": "mesh", "unit": "mm", "axis": {"origin": [0, 0, 0], "direction": [1, 0, 0]}, **change}


def missed(answer, at=radius):
    skin = skin_of(answer)
    low, high = skin.x_range_mm
    x, theta = np.linspace(max(low, 2), min(high, 88), 60), np.linspace(0, 2 * np.pi, 77)
    return np.abs(skin.radius(x[:, None], theta) - at(x[:, None], theta)).max()


def test_a_mesh_about_a_given_axis_is_the_skin_within_its_facets():
    answer = ask("scan", asked(), files={"mesh": MESH})
    facet = 31 * (1 - np.cos(np.pi / ANGLES)) + 0.01  # sagitta of a facet, and of the stations' steps
    assert missed(answer) < facet
    assert answer.value["axis"]["direction"] == [1, 0, 0] and answer.value["sigma_mm"] > 0


def test_the_unit_counts_and_is_asked_for():
    inch = stl(POINTS / 25.4, FACES)
    assert missed(ask("scan", asked(unit="inch"), files={"mesh": inch})) < 0.02
    assert problems("scan", {"asset": "mesh"}, assets={"mesh": "mesh"}) == {"/unit"}
    small = ask("scan", asked(), files={"mesh": stl(POINTS / 100, FACES)})
    assert "unit" in {f["code"] for f in small.value["findings"]}


def test_the_axis_of_a_mesh_that_lies_anyhow_is_found():
    turn = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    answer = ask("scan", asked(axis="auto"), files={"mesh": stl(POINTS @ turn.T + [100, -40, 7], FACES)})
    direction = np.array(answer.value["axis"]["direction"])
    assert abs(direction @ turn[:, 0]) > np.cos(np.radians(0.2))
    skin = skin_of(answer)
    flip = direction @ turn[:, 0] < 0
    x, theta = np.linspace(5, 85, 40), np.linspace(0, 2 * np.pi, 73)[:-1]
    mean = radius((LENGTH - x if flip else x)[:, None], theta).mean(1)
    assert skin.radius(x[:, None], theta).mean(1) == pytest.approx(mean, abs=0.05)


def test_the_handles_turn_shift_and_begin_anew():
    turned = ask("scan", asked(theta_zero_deg=30), files={"mesh": MESH})
    assert missed(turned, lambda x, theta: radius(x, theta + np.radians(30))) < 0.02
    begun = ask("scan", asked(shift_x_mm=10), files={"mesh": MESH})
    assert (
        missed(begun, lambda x, theta: radius(np.minimum(x + 10, LENGTH), theta)) < 0.05
        or skin_of(begun).x_range_mm[0] < 0
    )
    aside = skin_of(ask("scan", asked(shift_y_mm=1.0), files={"mesh": MESH}))
    theta = np.arange(360) * np.pi / 180
    first = 2 * (aside.radius(np.full(360, 45.0), theta) * np.exp(-1j * theta)).mean()
    assert abs(first) == pytest.approx(1.0, abs=0.05)  # a mm off the axis is a runout of a mm


def test_a_job_can_be_planned_on_a_scan():
    document = {
        "schema": "roundwright.job/1",
        "name": "Scanned gourd",
        "blank": {"shape": "scan", **asked(), "wall_mm": 4},
        "artwork": [],
    }
    job = engine.read_job(document, known=engine.Known(assets={"mesh": "mesh"}))
    skin = job.blank.skin({"mesh": MESH})
    x, theta = np.array([20.0, 60.0]), np.array([0.3, 2.0])
    assert skin.radius(x, theta) == pytest.approx(radius(x, theta), abs=0.02)
    assert (sigma_at(skin, x, theta) > 0).all()
    with pytest.raises(engine.JobError):
        engine.read_job(document, known=engine.Known(assets={"mesh": "table"}))


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"axis": {"origin": [0, 0], "direction": [1, 0, 0]}}, "/axis/origin"),
        ({"axis": "by eye"}, "/axis"),
        ({"unit": "yard"}, "/unit"),
        ({"shift_x_mm": "1"}, "/shift_x_mm"),
    ],
)
def test_what_is_wrong_is_told_by_its_place(change, place):
    assert {p.rsplit("/2", 1)[0] for p in problems("scan", asked(**change), assets={"mesh": "mesh"})} == {place}


def test_an_axis_beside_the_piece_is_refused_with_its_place():
    with pytest.raises(BlankError) as told:
        ask("scan", asked(axis={"origin": [0, 500, 0], "direction": [1, 0, 0]}), files={"mesh": MESH})
    assert told.value.where.startswith("/asset") and told.value.hint
