"""The page's pure modules, run where they will run: imported in the page."""

import json
import struct

import numpy as np
import pytest

from engine.outcome.shading import shades
from server.arrays import pack
from tests.job.test_lettering import CALLED

LENGTHS = [
    # text, unit, micrometres: an inch is 25.4 mm exactly (NIST SP 811, appendix B.8)
    ("46", "mm", 46_000),
    ("1/8 in", "mm", 3_175),
    ('1 3/8"', "mm", 34_925),
    ("0.5", "inch", 12_700),
    ("3.2mm", "inch", 3_200),
    ("\u22122.5", "mm", -2_500),
]


def test_lengths_are_read_exactly(core):
    got = core("units", "given.map(([t, u]) => m.parseLength(t, u))", [x[:2] for x in LENGTHS])
    assert got == [{"ok": True, "value": value} for *_, value in LENGTHS]


def test_what_can_mean_two_things_is_refused(core):
    got = core("units", "given.map((t) => m.parseLength(t, 'mm').ok)", ["1,5", "", "1/0", "wide", "1e3"])
    assert got == [False] * 5


def test_every_shown_length_reads_back_as_itself(core):
    """Two decimals are shown; what is shown is the nearest, and reading it back shows the same."""
    expression = """Array.from({ length: 4000 }, (_, i) => i * 137 - 200000).filter((um) => {
      const text = m.formatLength(um, 'mm'); const back = m.parseLength(text, 'mm').value;
      return Math.abs(back - um) > 5 || m.formatLength(back, 'mm') !== text; }).length"""
    assert core("units", expression) == 0


def test_a_quantity_shows_what_it_reads(core):
    expression = """['mm', 'inch'].flatMap((unit) => ['length', 'angle', 'rate'].map((kind) => {
      const q = m.QUANTITIES[kind]; const read = q.read('12.5', unit);
      return [kind, unit, q.show(read.value, unit)]; }))"""
    shown = {f"{kind}/{unit}": text for kind, unit, text in core("quantity", expression)}
    assert shown == dict.fromkeys(shown, "12.5") | {"length/inch": "12.500"}


def test_a_place_is_changed_without_touching_the_rest(core):
    expression = """(() => { const doc = given; const next = m.withValue(doc, '/artwork/1/placement/x_mm', 9);
      return [next, next.artwork[0] === doc.artwork[0], next.blank === doc.blank, doc.artwork[1].placement.x_mm,
        m.valueAt(next, '/artwork/1/placement/x_mm'), m.withValue(next, '/artwork/0', undefined).artwork.length];
      })()"""
    doc = {"blank": {}, "artwork": [{"placement": {"x_mm": 1}}, {"placement": {"x_mm": 2}}]}
    changed, same_art, same_blank, before, after, left = core("document", expression, doc)
    assert (same_art, same_blank, before, after, left) == (True, True, 2, 9, 1)
    assert changed["artwork"][1] == {"placement": {"x_mm": 9}}


def test_pointers_are_read_by_rfc_6901(core):
    """RFC 6901 section 5."""
    doc = {"foo": ["bar", "baz"], "": 0, "a/b": 1, "m~n": 8, " ": 7}
    pointers = {"/foo/0": "bar", "/": 0, "/a~1b": 1, "/m~0n": 8, "/ ": 7, "/none/of/it": None}
    got = core("document", "given[1].map((p) => m.valueAt(given[0], p) ?? null)", [doc, list(pointers)])
    assert got == list(pointers.values())


def test_rows_from_a_spreadsheet(core):
    text = "x\tdiameter\n0\t30.5\n10\t32\n\n20;33.25\n30, 34\nend\n"
    assert core("document", "m.rowsOf(given, 2)", text) == [[0, 30.5], [10, 32], [20, 33.25], [30, 34]]


@pytest.mark.parametrize("shape", ["cylinder", "cone", "ovoid", "stations"])
def test_every_shape_becomes_every_other(core, shape):
    expression = """['cylinder', 'cone', 'ovoid', 'stations'].map((s) => m.reshaped(m.reshaped(
      { shape: 'cylinder', diameter_mm: 40, length_mm: 90, material: 'beech' }, given), s))"""
    for blank in core("document", expression, shape):
        assert blank["material"] == "beech"
        assert all(value for key, value in blank.items() if key.endswith("_mm"))


def test_a_pull_is_one_step_and_undo_puts_everything_back(core):
    expression = """(() => {
      const store = m.createStore({ doc: { n: 0 }, other: 1 }, (s, c) => (c.type === 'n' ? { ...s,
      doc: { n: c.n } } : { ...s, other: c.n }));
      store.begin('pull'); for (let i = 1; i < 9; i += 1) store.dispatch({ type: 'n', n: i }); store.commit();
      store.dispatch({ type: 'n', n: 20, merge: 'k' }); store.dispatch({ type: 'n', n: 21, merge: 'k' });
      store.dispatch({ type: 'other', n: 5 }); const seen = [store.state.doc.n, store.state.history.undo !== null];
      store.undo(); seen.push(store.state.doc.n); store.undo(); seen.push(store.state.doc.n, store.state.history.undo);
      store.redo(); store.redo(); seen.push(store.state.doc.n, store.state.other, store.state.history.redo);
      store.begin('x'); store.dispatch({ type: 'n', n: 99 }); store.cancel(); seen.push(store.state.doc.n);
      store.dispatch({ type: 'n', n: 3, fresh: true }); seen.push(store.state.history.undo); return seen; })()"""
    assert core("store", expression) == [21, True, 8, 0, None, 21, 5, None, 21, None]


def test_server_events_come_whole_however_they_are_cut(core):
    text = ': hello\n\nid: 1\ndata: {"a": 1}\n\nretry: 5\n\nevent: plan\r\ndata: one\r\ndata: two\r\n\r\ndata: last\n\n'
    expression = """[1, 2, 3, 7, 500].map((size) => { const take = m.eventReader(); const out = [];
      for (let i = 0; i < given.length; i += size) out.push(...take(given.slice(i, i + size))); return out; })"""
    assert core("events", expression, text) == [['{"a": 1}', "one\ntwo", "last"]] * 5


def test_arrays_are_unpacked_as_they_were_packed(core):
    held = {"a": np.arange(6, dtype="<f4").reshape(2, 3), "b": np.array([1, 200], "u1"), "c": np.array([7], "<u2")}
    body = pack({"name": "Stück"}, held)
    assert struct.unpack("<I", body[:4])[0] > 0
    expression = """(() => { const { meta, arrays, shapes } = m.unpack(new Uint8Array(given).buffer);
      return [meta, [...arrays.a], [...arrays.b], [...arrays.c], shapes.a]; })()"""
    assert core("arrays", expression, list(body)) == [{"name": "Stück"}, [0, 1, 2, 3, 4, 5], [1, 200], [7], [2, 3]]


def test_a_moment_lies_between_the_moves_around_it(core):
    expression = """(() => { const f = (v) => new Float32Array(v);
      const moves = { x: f([0, 10, 10]), theta: f([0, 1, 1]),
      r: f([20, 20, 22]), kind: new Uint8Array([3, 0, 2]), stroke: new Uint32Array([1, 1, 2]),
      line: new Uint32Array([5, 6, 7]), end: f([1, 3, 4]) };
      return given.map((s) => { const at = m.momentAt(moves, s); return [at.x, at.r, at.stroke, at.line]; }); })()"""
    got = core("arrays", expression, [0, 1, 2, 3, 3.5, 99])
    assert got == [[0, 20, 1, 5], [0, 20, 1, 5], [5, 20, 1, 6], [10, 20, 1, 6], [10, 21, 2, 7], [10, 22, 2, 7]]


def test_moved_art_lies_where_a_fresh_layout_would_put_it(core):
    """On a cylinder the wrapping is exact: u = r dtheta, v = dx."""
    expression = """(() => { const facts = { x_mm: 40, angle_deg: 10, width_mm: 20, height_mm: 10, turn_deg: 20,
      r0_mm: 15 };
      const asked = { x_mm: 55, angle_deg: 100, width_mm: 30, turn_deg: 65 };
      const grid = m.flatGrid(facts); const carry = m.carryTo(facts, asked);
      const rad = Math.PI / 180; const out = [];
      for (const [a, b] of [[-0.5, -0.5], [0.5, 0], [0.25, 0.5]]) {
        const at = (p, w, h) => [Math.cos(p * rad) * a * w - Math.sin(p * rad) * b * h,
      Math.sin(p * rad) * a * w + Math.cos(p * rad) * b * h];
        const [x, theta] = m.carried(grid, carry, ...at(20, 20, 10)); const [u, v] = at(65, 30, 15);
        const [bx, bt] = m.boxPlace(grid, carry, a, b);
        out.push(Math.abs(x - 55 - v), Math.abs(theta - 100 * rad - u / 15), Math.abs(bx - x), Math.abs(bt - theta)); }
      return Math.max(...out); })()"""
    assert core("warp", expression) < 1e-5


def test_the_seam_shows_a_piece_on_both_edges(core):
    expression = "given.map(([a, b]) => m.seamTurns(a, b))"
    assert core("chart", expression, [[-1, 1], [3, 3.5], [-3.4, -3], [6, 6.5], [3.2, 3.4]]) == [
        [0],
        [-1, 0],
        [0, 1],
        [-1],
        [-1],
    ]


def test_the_sheet_and_the_screen_are_one_anothers_inverse(core):
    expression = """(() => { const c = m.createChart(-5, 90, 20);
      const v = m.fitView(c, 700, 500, { left: 50, right: 30, top: 40, bottom: 40 });
      const far = [[0, 0], [90, 3], [-5, -3]].map(([x, t]) => { const p = m.toSheet(c, v, ...m.toScreen(c, v, x,
      t)); return Math.hypot(p[0] - x, p[1] - t); });
      const [, low] = m.toScreen(c, v, 0, 0); const [, high] = m.toScreen(c, v, 50, 0);
      const [right] = m.toScreen(c, v, 0, 1);
      return [Math.max(...far) < 1e-9, high < low, right > m.toScreen(c, v, 0, 0)[0]]; })()"""
    assert core("chart", expression) == [True, True, True]


def test_turning_the_view_never_mirrors_it(core):
    """Seen from outside with +X up, theta grows to the right, from wherever one looks."""
    expression = """Array.from({ length: 24 }, (_, k) => { const a = k * 0.26 - 3;
      const camera = { azimuth: a, elevation: 0.3, distance: 300, panX: 0, panY: 0 };
      const { viewProjection } = m.look(camera, 45, 800, 600); const at =
      (x, t) => m.project(viewProjection, [x, 20 * Math.cos(t), 20 * Math.sin(t)]);
      return at(45, a + 0.1)[0] > at(45, a)[0] && at(50, a)[1] > at(45, a)[1]; })"""
    assert core("orbit", expression) == [True] * 24


def test_the_gate_opens_when_every_warning_is_seen_and_never_on_an_error(core):
    findings = [
        {"severity": "warning", "code": "thin", "message": "one", "mark": "thin:1"},
        {"severity": "warning", "code": "thin", "message": "two", "mark": "thin:2"},
        {"severity": "note", "code": "far", "message": "three"},
    ]
    expression = """(() => { const one = given.slice(0, 1).map(m.keyOf); const all = given.map(m.keyOf);
      const bad = [...given, { severity: 'error', code: 'deep', message: 'x' }];
      return [m.gateOf(given, []).shut, m.gateOf(given, one).shut, m.gateOf(given, all).shut, m.gateOf(bad, all).shut,
        m.acknowledgedMarks(given, one), m.acknowledgedMarks(given, all),
        m.isHeld(given[0], ['thin:1']), m.isHeld(given[1], ['thin:1']), m.isHeld(given[1], ['thin'])]; })()"""
    assert core("findings", expression, findings) == [
        True, True, False, True, ["thin:1"], ["thin:1", "thin:2"], True, False, True,
    ]  # fmt: skip


def test_the_skin_is_read_between_its_readings(core):
    """r = 20 + x/10 + cos(theta) is linear in x."""
    expression = """(() => { const n = 360; const x = new Float32Array([0, 3, 10, 40]);
      const radii = new Float32Array(4 * n);
      x.forEach((s, i) => { for (let j = 0; j < n;
      j += 1) radii[i * n + j] = 20 + s / 10 + Math.cos(-Math.PI + (j * 2 * Math.PI) / n); });
      const skin = { x, angles: n, radii }; const mesh = m.meshOf(skin);
      return [m.radiusAt(skin, 17, 7), mesh.indices.every((i) =>
      i < mesh.vertices.length / mesh.stride)]; })()"""
    radius, whole = core("skin", expression)
    assert radius == pytest.approx(21.7 + 0.7539, abs=2e-3)
    assert whole


def test_stretch_is_told_where_skin_is_laid_on(core):
    """Nine nodes of a grid; the last row lies beside the skin and counts for nothing."""
    expression = """(() => {
      const told = { greatest: [1.1, 1.2, 1.3, 1.1, 1.2, 1.5, 0, 0, 0], least: [1, 0.9, 1, 0.8, 1, 1, 0, 0, 0],
        turn: [0, 0, 0, 0, 0, 0, 0, 0, 0] };
      const range = m.extremesOf(told);
      const flat = { greatest: [0, 0], least: [0, 0], turn: [0, 0] };
      return [range.least, range.greatest, m.cellStretch(told, 3, 0, 1), m.cellStretch(told, 3, 1, 0),
        m.extremesOf(flat), m.everyNode(17, 2), m.everyNode(9, 3), m.stretchWords([range]), m.stretchWords([]),
        m.stretchWords([{ least: 0.9998, greatest: 1.0001 }])]; })()"""
    least, greatest, cell, beside, nothing, many, few, words, none, true = core("stretch", expression)
    assert (least, greatest) == (0.8, 1.5)
    assert (cell["greatest"], cell["least"]) == pytest.approx((1.3, 0.975))
    assert beside is None and nothing is None and none == ""
    assert many == [0, 2, 4, 6, 8, 10, 12, 14, 16]
    assert few == [1, 4, 7]
    assert words == "1 mm of the sheet is 0.800 to 1.500 mm on the skin"
    assert true == "1 mm of the sheet is 1 mm on the skin"


def test_documents_cross_as_json(core):
    assert core("document", "m.emptyJob()") == json.loads(json.dumps(core("document", "m.emptyJob()")))


def carved_in(page_core, depth, x, theta, radius_mm, expression):
    """The page's relief of a field on a cylinder; `expression` is asked of it under `r`."""
    given = {"depth": depth.ravel().tolist(), "x": x.tolist(), "theta": theta.tolist(), "radius": radius_mm}
    source = f"""((skin, carved) => {{ const r = m.reliefOf({{ skin, carved }}); return {expression}; }})(
      {{ x: Float32Array.of(given.x[0] - 1, given.x[given.x.length - 1] + 1), angles: 4,
         radii: new Float32Array(8).fill(given.radius) }},
      {{ x: Float32Array.from(given.x), theta: Float32Array.from(given.theta), depth: Float32Array.from(given.depth),
         greatest: Math.max(...given.depth) }})"""
    return page_core("relief", source, given)


@pytest.mark.parametrize("whole", [True, False])
def test_the_page_shades_as_the_picture_of_the_proof(core, whole):
    rng = np.random.default_rng(5)
    x, theta = np.arange(40) * 0.05, np.linspace(-np.pi, np.pi if whole else 2.0, 200, endpoint=False)
    waves = [np.sin(7 * k * theta + 3 * x[:, None] * a + b) for k, (a, b) in enumerate(rng.random((6, 2)) * 6)]
    depth = np.maximum(0.0, 0.03 * np.sum(waves, axis=0)).astype(np.float32)
    radius = 2.0
    step = float(theta[1] - theta[0])
    asked = shades(depth, dx_mm=0.05, around_mm=np.full(40, radius * step), whole=whole)
    seen = np.array(carved_in(core, depth, x, theta, radius, "[...r.shades]")).reshape(depth.shape)
    assert np.abs(seen - asked.astype(int)).max() <= 1
    assert carved_in(core, depth, x, theta, radius, "r.whole") is whole


def test_the_normals_of_a_groove_lie_on_its_walls(core):
    """A V of slope 1 along x: its walls look 45 degrees to the right and to the left, and nowhere along."""
    x, theta = np.arange(20) * 0.05, np.arange(60) * 0.01
    off = np.abs(np.arange(60) - 30) * 0.01 * 5.0
    depth = np.maximum(0.0, 0.6 - off) * np.ones((20, 1))
    normals = np.array(carved_in(core, depth, x, theta, 5.0, "[...r.normals]")).reshape(20, 60, 4)
    half = round(127 * 0.5**0.5)
    assert (np.abs(normals[:, 20:29, 0] - (128 + half)) <= 1).all()
    assert (np.abs(normals[:, 32:40, 0] - (128 - half)) <= 1).all()
    assert (np.abs(normals[:, 20:29, 3] - 255 * 0.5**0.5) <= 1).all() and (normals[..., 1] == 128).all()
    assert (normals[depth == 0.0] == [128, 128, 0, 255]).all()


def test_art_is_called_on_the_page_as_on_the_sheet(core):
    got = core("names", "given.map((string) => m.artName({ text: { string } }, 0))", [*CALLED])
    assert got == [*CALLED.values()]
    others = [
        {"asset": "a"},
        {"text": {"string": " "}},
        {"border": {"kind": "rope", "along": "frame"}},
        {"name": "rim"},
    ]
    assert core("names", "given.map((item, k) => m.artName(item, k))", others) == [
        "art 1",
        "art 2",
        "rope frame",
        "rim",
    ]
    assert core("names", "m.artName({ asset: 'a' }, 0, 'leaf.svg')") == "leaf.svg"
