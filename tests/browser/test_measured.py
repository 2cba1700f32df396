"""The drawing of a measured skin: pure modules, run in the page; colours by a published model of colour blindness."""

import re

import numpy as np
import pytest

from tests.browser.measured import answer, lobed

# Linear sRGB as seen without the middle cones: Machado, Oliveira, Fernandes (2009), "A physiologically-based model for
# simulation of color vision deficiency", table 1, severity 1.0; and without the long ones.
DEUTERANOPIA = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]]
)
PROTANOPIA = np.array(
    [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
)
# Linear sRGB to CIE XYZ, D65 (IEC 61966-2-1).
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = XYZ.sum(axis=1)


def lab(colours, sight):
    """CIELAB (CIE 15) of (n, 3) sRGB bytes as an eye with `sight` has them."""
    coded = np.asarray(colours, float) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ sight.T, 0, 1)
    t = seen @ XYZ.T / WHITE
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


@pytest.mark.parametrize("sight", [np.eye(3), DEUTERANOPIA, PROTANOPIA], ids=["all", "no-green", "no-red"])
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_colours_keep_their_order_for_every_eye(core, dark, sight):
    """Lightness runs one way from the middle to either end, and the two ends differ in hue."""
    name = str(dark).lower()
    got = np.array(core("measured/ramp", f"[...m.diverging({name})]")).reshape(256, 3)
    seen = lab(got, sight)
    way = 1 if dark else -1
    for half in (seen[128::4, 0], seen[127::-4, 0]):
        assert (way * np.diff(half) > 0).all()
        assert abs(half[-1] - half[0]) > 40
    assert np.linalg.norm(seen[0, 1:] - seen[-1, 1:]) > 40  # a just noticeable difference is about 2
    assert np.linalg.norm(seen[64, 1:] - seen[192, 1:]) > 20
    one_way = lab(np.array(core("measured/ramp", f"[...m.sequential({name})]")).reshape(256, 3), sight)
    assert (way * np.diff(one_way[::4, 0]) > 0).all()


@pytest.mark.parametrize(
    ("value", "asked"), [(0.01, 0.01), (0.011, 0.015), (0.16, 0.2), (4.1, 5), (0.0301, 0.05), (8, 10)]
)
def test_limits_are_round(core, value, asked):
    assert core("measured/ramp", "m.roundUp(given)", value) == pytest.approx(asked)


def asked_of(core, module, expression, given):
    """`expression` with the measured skin under `s` and its module's names under `k`."""
    return core(
        module, f"await (async () => {{ const k = await import('/static/js/core/measured/skin.js');"
        f" const s = k.measuredOf(given.answer); return {expression}; }})()", given,
    )  # fmt: skip


def test_a_skin_is_summed_up_by_station(core):
    given = {"answer": lobed(stations=5, angles=72)}
    mean, runout, spread = asked_of(
        core, "measured/skin", "[[...s.mean], [...s.runout], s.most[2] - s.least[2]]", given
    )
    radius = np.array(given["answer"]["skin"]["radius_mm"])
    assert mean == pytest.approx(radius.mean(axis=1))
    assert runout == pytest.approx(given["answer"]["skin"]["runout_mm"])
    assert spread == pytest.approx(np.ptp(radius[2]))


def test_the_map_is_not_mirrored_and_shows_the_value_where_it_is(core):
    """x to the right and the angle down is the sheet, +x up and the angle to the right, turned by a quarter."""
    given = {"answer": lobed(stations=41, angles=180)}
    expression = """(() => { const width = 200; const height = 180; const f = k.fieldOf(s, 'radius');
      const ramp = new Uint8ClampedArray(768).map((_, i) => Math.floor(i / 3));
      const low = Math.min(...f); const high = Math.max(...f);
      const p = m.paint(s, f, { colours: ramp, low, high }, { width, height, hatch: [1, 2, 3] });
      const axes = m.mapAxes(s, 300, 200);
      return [low, high, [...p].filter((_, i) => i % 4 === 0), axes.xAt(axes.box.left), axes.xAt(axes.box.right),
        axes.yAt(axes.box.top), axes.yAt(axes.box.bottom)]; })()"""
    low, high, pixels, *corners = asked_of(core, "measured/map", expression, given)
    skin = given["answer"]["skin"]
    assert corners == pytest.approx([skin["x_mm"][0], skin["x_mm"][-1], -180, 180])
    seen = low + np.array(pixels).reshape(180, 200) / 255 * (high - low)
    x = skin["x_mm"][0] + (np.arange(200) + 0.5) / 200 * (skin["x_mm"][-1] - skin["x_mm"][0])
    degrees = -180 + (np.arange(180) + 0.5) * 2
    truth = answer.radius(x[None, :], np.radians(degrees)[:, None])
    assert np.abs(seen - truth).max() < (high - low) / 255 + 0.02


def test_places_that_were_not_seen_are_hatched(core):
    given = {"answer": lobed(stations=11, angles=36, unseen=lambda x, deg: deg > 180)}
    expression = """(() => { const f = k.fieldOf(s, 'deviation'); const p = m.paint(s, f, { colours: new
      Uint8ClampedArray(768).fill(9), low: -1, high: 1 }, { width: 70, height: 72, hatch: [200, 0, 0] });
      return [...p].filter((_, i) => i % 4 === 0); })()"""
    hatched = np.array(asked_of(core, "measured/map", expression, given)).reshape(72, 70) == 200
    assert hatched[:34].mean() == pytest.approx(2 / 7, abs=0.02)  # the upper half is -180 to 0
    assert not hatched[38:70].any()


def marks(found, kind):
    return [one for one in found if one[1].get("class") == kind]


def test_the_profile_shows_extremes_band_and_readings(core):
    given = {"answer": lobed(stations=21, angles=36, readings=200, wild=3)}
    expression = "(() => { const a = m.profileAxes(s, 600, 240); return m.profileMarks(s, a, 'mm'); })()"
    found = asked_of(core, "measured/profile", expression, given)
    assert len(marks(found, "edge-line")) == 2
    assert marks(found, "dots")[0][1]["d"].count("M") == 197
    assert len(re.findall("[ML]", marks(found, "band")[0][1]["d"])) == 42
    assert len(re.findall("[ML]", marks(found, "mean-line")[0][1]["d"])) == 21


def test_the_runout_arrow_points_where_the_section_lies_out(core):
    """0 degrees is up and angles run anticlockwise: 90 degrees is to the left, as seen with +x towards the eye."""
    flat = lobed(stations=5, angles=72, runout=(1.0, 90.0))
    expression = "m.sectionMarks(s, [given.answer.skin.x_mm[2]], { size: 300, times: 20, unit: 'mm' })"
    found = asked_of(core, "measured/section", expression, {"answer": flat})
    start, tip = re.findall(r"(-?[\d.]+) (-?[\d.]+)", marks(found, "arrow s1")[0][1]["d"])[:2]
    dx, dy = (float(b) - float(a) for a, b in zip(start, tip, strict=True))
    assert dx < -20
    assert abs(dy) < 0.2


def test_exaggeration_never_turns_a_section_inside_out(core):
    given = {"answer": lobed(stations=5, angles=72)}
    times = asked_of(core, "measured/section", "m.mostTimes(s)", given)
    radius = np.array(given["answer"]["skin"]["radius_mm"])
    mean = radius.mean(axis=1, keepdims=True)
    assert times >= 1
    assert (mean + times * (radius - mean)).min() > 0


def test_residuals_are_counted_once_and_the_curve_has_their_area(core):
    given = {"answer": lobed(stations=11, angles=36, readings=3000, wild=20)}
    expression = """(() => { const h = m.histogramOf(s.readings); const { rms, used } = k.spreadOf(s.readings);
      const n = h.counts.length; const wide = 2 * h.reach / n;
      const area = Array.from({ length: n * 4 }, (_, i) => m.normalCount(-h.reach + (i + 0.5) * wide / 4, rms, used,
        h.reach)).reduce((a, b) => a + b) / 4;
      return [h.counts, rms, used, area, h.reach]; })()"""
    counts, rms, used, area, reach = asked_of(core, "measured/residuals", expression, given)
    taken = [r for r, state in zip(given["answer"]["readings"]["residual_mm"], given["answer"]["readings"]["state"],
             strict=True) if state == "used"]  # fmt: skip
    assert sum(counts) == used == len(taken) == 2980
    assert rms == pytest.approx(np.sqrt(np.mean(np.square(taken))))
    assert area == pytest.approx(used, rel=0.01)
    assert counts == np.histogram(taken, bins=25, range=(-reach, reach))[0].tolist()


def test_the_table_of_the_spread_counts_every_used_reading(core):
    given = {"answer": lobed(stations=11, angles=36, readings=3000, wild=20)}
    table, counts = asked_of(
        core, "measured/tables", "[m.histogramTable(s, 'mm'), (await import("
        "'/static/js/core/measured/residuals.js')).histogramOf(s.readings)]", given,
    )  # fmt: skip
    assert [int(row[2]) for row in table["rows"]] == [n for n in counts["counts"] if n]
    taken = np.array(given["answer"]["readings"]["residual_mm"])[20:]
    bounds = [[float(one.replace("\u2212", "-")) for one in row[:2]] for row in table["rows"]]  # told to 0.001 mm
    assert bounds[0][0] <= taken.min() + 0.001 and bounds[-1][1] >= taken.max() - 0.001


def test_so_many_readings_do_not_hide_the_skin(core):
    for readings, kind in ((900, "dots"), (1100, "dots many")):
        given = {"answer": lobed(stations=11, angles=36, readings=readings)}
        found = asked_of(core, "measured/profile", "m.profileMarks(s, m.profileAxes(s, 600, 240), 'mm')", given)
        assert len(marks(found, kind)) == 1


def test_findings_are_told_in_sentences(core):
    got = core("measured/words", "m.sentences('the lens is taken to be perfect', 'Check it.', null, ' measure again ')")
    assert got == "The lens is taken to be perfect. Check it. Measure again."


def test_tables_say_what_the_plots_show(core):
    given = {"answer": lobed(stations=21, angles=72, readings=50, wild=1, unseen=lambda x, deg: deg == 90)}
    profile, section, spread, unrolled = asked_of(
        core, "measured/tables", "[m.profileTable(s, 'mm'), m.sectionTable(s, [s.x[4]], 'mm'),"
        " m.residualTable(s, 'mm'), m.mapTable(s, 'radius', 'inch')]", given,
    )  # fmt: skip
    radius = np.array(given["answer"]["skin"]["radius_mm"])
    assert len(profile["rows"]) == 9
    assert float(profile["rows"][0][1]) == pytest.approx(radius[0].mean(), abs=6e-4)
    assert float(section["rows"][4][1]) == pytest.approx(radius[4, 0], abs=6e-4)
    assert ["left out", "1"] in spread["rows"]
    assert unrolled["rows"][0][unrolled["head"].index("90°")].startswith("(")
    assert float(unrolled["rows"][0][5]) * 25.4 == pytest.approx(radius[0, 0], abs=2e-3)


PASTES = [
    # text, unit, cells in mm
    ("x\td\n0\t30,5\n12\t36,25\n", "mm", [[0, 30.5], [12, 36.25]]),
    ("0;30,5;30,7\r\n12;36;36,1", "mm", [[0, 30.5, 30.7], [12, 36, 36.1]]),
    ("0 1.5\n1 2", "inch", [[0, 38.1], [25.4, 50.8]]),
    ("0, 30.5\n12, 36", "mm", [[0, 30.5], [12, 36]]),
    ("0\t31,125", "mm", [[0, 31.125]]),
]


@pytest.mark.parametrize(("text", "unit", "asked"), PASTES)
def test_spreadsheets_are_read_in_their_own_manners(core, text, unit, asked):
    got = core(
        "measured/table", "m.pasted(m.emptyTable(1, 3), 0, 0, given.text, given.unit)", {"text": text, "unit": unit}
    )
    assert [[c["mm"] for c in row[: len(asked[0])]] for row in got] == asked


def test_points_and_commas_side_by_side_are_not_guessed_at(core):
    got = core("measured/table", "m.pasted(m.emptyTable(1, 2), 0, 0, '1\\t1,250\\n2\\t3.5', 'mm')")
    assert got[0][1]["mm"] is None and got[0][1]["why"]
    assert got[1][1]["mm"] == 3.5


def test_a_paste_keeps_what_stands_beside_it(core):
    expression = """(() => { let t = m.emptyTable(3, 3); t = m.withCell(t, 0, 0, m.cellOf('5', 'mm'));
      t = m.pasted(t, 1, 1, '7\\t8\\n9\\t10\\n11\\t12', 'mm'); return t.map((r) => r.map((c) => c.mm)); })()"""
    assert core("measured/table", expression) == [[5, None, None], [None, 7, 8], [None, 9, 10], [None, 11, 12]]


def test_stations_come_in_order_and_faults_with_their_cell(core):
    expression = """(() => { let t = m.pasted(m.emptyTable(4, 3), 0, 0, given, 'mm');
      const good = m.stationsOf(m.openEnded(t)); t = m.pasted(t, 3, 0, '12\\t40\\n30\\t\\n40\\t-3\\n50\\tx', 'mm');
      return [good, m.stationsOf(t).faults.map((f) => [f.row, f.column])]; })()"""
    good, faults = core("measured/table", expression, "12\t36\n0\t30\t31\n20\t33")
    assert good == {
        "stations": [
            {"x_mm": 0, "diameter_mm": 30, "across_mm": 31}, {"x_mm": 12, "diameter_mm": 36},
            {"x_mm": 20, "diameter_mm": 33},
        ],
        "rows": [1, 0, 2], "faults": [],
    }  # fmt: skip
    assert faults == [[3, 0], [4, 1], [5, 1], [6, 1]]
