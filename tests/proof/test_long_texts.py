"""Texts that would take long to judge: cells are coarsened, and that is told; what is too deep is an error still."""

import numpy as np
import pytest

from engine.kernel.values import Form, Tool
from engine.proof import carve_field, moved
from engine.proof.carve import CELL_ROWS, FLAT_CELL_ROWS, PIECE_ROWS, carve, work_of
from engine.proof.carve_pieces import Frame
from engine.proof.form import form_of
from tests.proof.programs import TOOL, codes, lines, proof_of

HEAD = ["G21 G90 G94", "G0 Z30", "G0 X30 A0", "S9000 M3", "G1 Z19.8 F60"]
END = ["G0 Z30", "M5", "M2"]
FLAT = Tool(form=Form.FLAT, diameter_mm=50)
FRAME = Frame(35.0, 0.05, -0.5, 0.0025, False)
FIELD = 201, 401


def rings(n, z):
    """n rings of the whole bar, z from the axis, with slanted ways between them."""
    turns = [word for k in range(n) for word in (f"X{30 + 30 * k / n:.3f}", f"A{360 * (k % 2)}")]
    return [*HEAD[:-1], f"G1 Z{z} F60", *turns, *END]


@pytest.mark.parametrize(("tool", "reach", "cell"), [(TOOL, None, CELL_ROWS), (FLAT, 25.0, FLAT_CELL_ROWS)])
def test_the_work_is_the_pieces_the_rows_and_the_cells_under_them(tool, reach, cell):
    moves = np.array([[38.0, 0.0, 19.8, 42.0, 0.0, 19.8]] * 5)
    radii = np.full(FIELD, 20.0, np.float32)
    work = work_of(radii, FRAME, form_of(tool), moves)
    reach = reach or tool.flat_mm + 0.2 / tool.flank
    pieces = 3  # of at most 1.5 mm
    assert work.pieces == 5 * pieces * PIECE_ROWS
    under = min((4.0 / pieces + 2 * reach) / FRAME.dx, FIELD[0])
    assert work.rows == pytest.approx(5 * pieces * under, rel=0.1)
    around = FRAME.dth * reach / np.arcsin(min(1.0, reach / 19.8))
    area = 2 * 4.0 / pieces * reach + np.pi * reach**2
    cells = min(area / (FRAME.dx * around), under * FIELD[1])
    assert work.cells == pytest.approx(5 * pieces * cells * cell, rel=0.1)
    assert (radii == 20.0).all()


def test_moves_in_the_air_are_no_work():
    moves = np.array([[38.0, 0.0, 20.5, 42.0, 0.0, 20.5]] * 5)
    assert work_of(np.full(FIELD, 20.0, np.float32), FRAME, form_of(TOOL), moves) == (0.0, 0.0, 0.0)


def test_cells_are_coarsened_to_the_work_that_may_be_done_and_never_made_finer(monkeypatch):
    text = rings(40, 19.6)
    usual = proof_of(text)
    assert not usual.carved.coarse and ("note", "looked-coarsely") not in codes(usual)
    window, worked = [], []
    monkeypatch.setattr(carve_field, "MOST_WORK", 20_000.0)
    monkeypatch.setattr(carve_field, "carve", lambda *args: (worked.append(sum(work_of(*args))), carve(*args)))
    monkeypatch.setattr(carve_field, "_affordable", _seen(carve_field._affordable, window))
    coarse = proof_of(text)
    assert window[0].cell_mm < window[1].cell_mm
    assert 0.5 * 20_000 < worked[0] < 1.3 * 20_000
    assert coarse.carved.depth_mm.size < 0.5 * usual.carved.depth_mm.size
    assert coarse.carved.coarse and ("note", "looked-coarsely") in codes(coarse)
    assert "coarsened from" in next(f.message for f in coarse.findings if f.code == "looked-coarsely")
    assert coarse.depth_mm == pytest.approx(usual.depth_mm, abs=1e-3)


def _seen(work, seen):
    def affordable(window, *rest):
        found = work(window, *rest)
        seen.extend((window, found))
        return found

    return affordable


@pytest.mark.parametrize("tool", [TOOL, FLAT])
@pytest.mark.parametrize(
    ("z", "more", "code"),
    [(10, {}, "deeper-than-asked"), (19.5, {"wall_mm": 0.4}, "wall"), (-1, {}, "beyond-axis")],
)
def test_what_is_too_deep_is_an_error_however_coarse_the_cells(z, more, code, tool, monkeypatch):
    monkeypatch.setattr(carve_field, "MOST_WORK", 500.0)
    proof = proof_of(rings(6, z), tool=tool, **more)
    assert proof.carved.coarse
    assert ("error", code) in codes(proof)
    assert proof.depth_mm[1] == pytest.approx(20.0 - z, abs=0.05)


def test_one_stroke_too_deep_among_many_is_found_in_coarse_cells(monkeypatch):
    monkeypatch.setattr(carve_field, "MOST_WORK", 2_000.0)
    good = lines()
    k = [n for n, line in enumerate(good) if line.startswith("G1 Z19.8")][7]
    bad = [*good[:k], good[k].replace("Z19.8000", "Z19.7800"), *good[k + 1 :]]
    assert ("error", "deeper-than-asked") not in codes(proof_of(good))
    assert ("error", "deeper-than-asked") in codes(proof_of(bad))


def test_a_wide_tool_takes_off_all_that_stands_in_its_way_wherever_the_highest_is():
    shape, frame, z = (301, 401), Frame(32.5, 0.05, -0.5, 0.0025, False), 17.0
    x = frame.x0 + frame.dx * np.arange(shape[0])[:, None]
    theta = frame.th0 + frame.dth * np.arange(shape[1])[None, :]
    radii = (18.0 + np.sin(x) * np.cos(9 * theta)).astype(np.float32)
    radii[5, 7] = 25.0  # beside the tool
    before = radii.copy()
    carve(radii, frame, form_of(Tool(form=Form.FLAT, diameter_mm=12)), np.array([[40.0, 0.0, 26.0, 40.0, 0.0, z]]))
    floor = z / np.cos(theta)
    away = np.hypot(x - 40.0, floor * np.sin(theta))
    sure = np.abs(away - 6.0) > 1e-3
    want = np.where(away < 6.0, np.minimum(before, floor), before)
    np.testing.assert_allclose(radii[sure], want[sure], rtol=1e-6)
    assert radii[5, 7] == 25.0 and (radii < before).sum() > 10_000


@pytest.mark.parametrize(
    "body",
    [
        ["X10 A350000", "X70 A-350000"] * 3,
        ["X5", "X85"] * 4_000,
    ],
)
def test_moves_longer_than_can_be_judged_are_an_error_at_the_one_that_is_too_much(body, monkeypatch):
    monkeypatch.setattr(moved, "MOST_WAY_MM", 3e5)
    proof = proof_of([*HEAD, *body, *END])
    told = next(f for f in proof.findings if f.code == "too-long")
    way = proof.replay.way_mm.sum(where=np.isfinite(proof.replay.way_mm))
    assert told.severity.value == "error" and "0.3 km" in told.message
    assert len(HEAD) < told.where.line < len(HEAD) + len(body)
    assert len(proof.replay) < told.where.line and way <= 3e5
    assert ("error", "too-long") not in codes(proof_of([*HEAD, *body[: max(1, len(body) // 40)], *END]))
