"""The job document: what is read, which defaults are taken, and what is told of everything that is wrong."""

import json
import random

import pytest

from engine.job import Known, read_job
from engine.kernel.errors import JobError
from engine.kernel.values import Form, Tool
from engine.layout import Projection
from engine.machine import FeedRule, Profile
from engine.marking import Hatch, Outline
from tests.job.documents import DRAWING, FULL, KNOWN, LEAST, OVOID, TABLE, TWO, put


def problems(document, known=KNOWN):
    with pytest.raises(JobError) as caught:
        read_job(document, known=known)
    return {p.pointer: (p.given, p.allowed) for p in caught.value.problems}


def test_the_least_job_is_read():
    job = read_job(LEAST, known=KNOWN)
    (item,) = job.items
    assert job.name == "Seed-swap float 12" and job.blank.skin({}).x_range_mm == (0, 90)
    assert (item.asset, item.depth_mm, item.style) == (DRAWING, 0.2, Hatch(pitch_mm=0.3))
    assert (item.placement.x_mm, item.placement.width_mm, item.placement.height_mm) == (45, 30, None)
    assert item.placement.projection is Projection.EQUIDISTANT
    assert job.tools == (item.tool,) == (Tool(),) and item.climbs and item.passes == 1 and item.step_mm is None
    assert item.plunge_mm_min == pytest.approx(item.feed_mm_min / 3) and item.level_mm == 0.02
    assert job.machine == Profile() and job.document is LEAST


def test_the_least_jobs_every_default_is_told_with_the_value_it_took():
    """What is null in the document is worked out or looked up: the told value is the one that counts."""
    told = dict(read_job(LEAST, known=KNOWN).defaults)
    art = "/artwork/0"
    fixed = {
        "/blank/material": "", "/blank/wall_mm": None, "/blank/wall_min_mm": 0,
        "/blank/keep_out": [], "/blank/seam_deg": 180, "/blank/radius_error_mm": 0.05,
        f"{art}/name": "", f"{art}/placement/height_mm": None, f"{art}/placement/mirror": False,
        f"{art}/placement/turn_deg": 0, f"{art}/placement/projection": "equidistant",
        f"{art}/placement/fit": "conformal", f"{art}/placement/eye": None,
        f"{art}/tone": {"threshold": "auto", "invert": False, "contrast": 0, "gamma": 1},
        f"{art}/picture": None, f"{art}/drawing": None,
        f"{art}/marking/angle_deg": 0, f"{art}/marking/outline": False, f"{art}/marking/inset_mm": 0,
        f"{art}/marking/lines": "straight", f"{art}/marking/crossed": False, f"{art}/marking/keep_inside": False,
        f"{art}/tool": "cone-60", f"{art}/passes": 1, f"{art}/step_mm": None, f"{art}/feed_mm_min": 240,
        f"{art}/plunge_mm_min": 80, f"{art}/rpm": 12000, f"{art}/direction": "uphill", f"{art}/level_mm": 0.02,
        "/tools": [], "/acknowledged": [],
    }  # fmt: skip
    machine = told.pop("/machine")
    assert told == fixed and json.loads(json.dumps(machine)) == machine
    # What scripts rely on.
    assert {k: v["letter"] for k, v in machine["axes"].items()} == {"axial": "X", "rotary": "A", "radial": "Z"}
    assert machine["axes"]["axial"]["rapid_mm_min"] == 1500 and machine["axes"]["radial"]["accel_mm_s2"] == 100
    assert machine["axes"]["rotary"]["rapid_deg_min"] == 3600 and machine["axes"]["rotary"]["min_deg"] is None
    assert (machine["feed_rule"], machine["z_zero"], machine["clearance_mm"]) == ("inverse-time", "axis", 2)


def test_what_is_to_be_left_of_a_wall_lies_within_it():
    walled = put(LEAST, "/blank/wall_mm", 4)
    assert read_job(put(walled, "/blank/wall_min_mm", 3.9), known=KNOWN).blank.wall_min_mm == 3.9
    for document in (put(walled, "/blank/wall_min_mm", 4), put(LEAST, "/blank/wall_min_mm", 1)):
        ((place, (_, allowed)),) = problems(document).items()
        assert place == "/blank/wall_min_mm" and "wall_mm" in allowed
    steep = put(LEAST, "/tools", [{"id": "own", "tilt_max_deg": 35}])
    assert read_job(steep, known=KNOWN).tools[0].tilt_max_deg == 35


def test_a_default_pitch_is_nine_tenths_of_the_tools_width_at_depth():
    """A wedge with a flat tip: 0.1 + 2 * 0.2 * tan(30 deg) = 0.33094 mm wide."""
    for document in (put(LEAST, "/artwork/0/marking", ...), put(LEAST, "/artwork/0/marking/pitch_mm", ...)):
        job = read_job(document, known=KNOWN)
        assert job.items[0].style.pitch_mm == pytest.approx(0.9 * 0.3309401077, abs=5e-5)
        told = dict(job.defaults)
        marking = told.get("/artwork/0/marking", {"pitch_mm": told.get("/artwork/0/marking/pitch_mm")})
        assert marking["pitch_mm"] == job.items[0].style.pitch_mm


def test_the_full_job_is_read():
    job = read_job(FULL, known=KNOWN)
    first, second = job.items
    own = {"stick_out_mm": 18, "shank_mm": 3.175, "flute_mm": 2.5}
    assert job.tools[0] == Tool(id="ball-1", form=Form.BALL, diameter_mm=0.8, flutes=2, rpm_max=8000, **own)  # not ours
    assert isinstance(first.style, Outline) and second.style == Hatch(
        pitch_mm=0.4, angle_deg=30, outline=True, inset_mm=0.1
    )
    assert (first.tone.threshold, first.tone.invert, first.tone.gamma) == (96, True, 1.4)
    assert not first.climbs and second.climbs and job.rpm(job.tools[0]) == 8000  # the tool allows no more
    m = job.machine
    assert (m.axial.letter, m.axial.reversed, m.axial.rapid_per_min, m.axial.greatest) == ("Y", True, 900, 250)
    assert (m.rotary.letter, m.rotary.reversed, m.rotary.rapid_per_min, m.mm_per_turn) == ("B", True, 2000, 100)
    assert m.feed_rule is FeedRule.ALL_AXES and m.header == ("G54", "M8") and m.footer == ("M9",)
    assert (m.collet_mm, m.collet_length_mm, m.nose_mm, m.axis_error_mm) == (11, 14, None, 0.05)
    told = dict(job.defaults)
    assert told["/machine/feed_rule"] == "all-axes"  # the stored profile's, which is what counts
    assert told["/machine/axes/axial/rapid_mm_min"] == 900 and told["/machine/axes/radial"]["letter"] == "Z"


@pytest.mark.parametrize("name", [p.value for p in Projection])
def test_every_projection_is_known(name):
    job = read_job(put(LEAST, "/artwork/0/placement/projection", name), known=KNOWN)
    assert job.items[0].placement.projection.value == name


def test_an_eye_and_a_fit_belong_to_their_projections():
    place = "/artwork/0/placement"
    seen = put(LEAST, f"{place}/projection", "from-view")
    eye = {"x_mm": 40, "angle_deg": 20, "distance_mm": 400}
    where = read_job(put(seen, f"{place}/eye", eye), known=KNOWN).items[0].placement
    assert (where.eye.x_mm, where.eye.angle_deg, where.eye.distance_mm) == (40, 20, 400)
    fitted = put(put(LEAST, f"{place}/projection", "fitted"), f"{place}/fit", "rigid")
    assert read_job(fitted, known=KNOWN).items[0].placement.fit.value == "rigid"
    for wrong, pointer in ((put(LEAST, f"{place}/eye", eye), "eye"), (put(seen, f"{place}/fit", "rigid"), "fit")):
        with pytest.raises(JobError) as caught:
            read_job(wrong, known=KNOWN)
        assert [p.pointer for p in caught.value.problems] == [f"{place}/{pointer}"]


@pytest.mark.parametrize("rule", [r.value for r in FeedRule])
def test_every_feed_rule_is_known(rule):
    assert read_job(LEAST | {"machine": {"feed_rule": rule}}, known=KNOWN).machine.feed_rule.value == rule


def test_every_shape_is_known():
    cone = {"shape": "cone", "diameter_mm": 60, "end_diameter_mm": 40, "length_mm": 50}
    grid = {"shape": "grid", "asset": TABLE}
    for blank in (LEAST["blank"], cone, OVOID, TWO, grid):
        assert read_job(LEAST | {"blank": blank}, known=KNOWN).blank.shape == blank["shape"]


# Where a document is changed, to what, the pointer's end beyond that place, and what is said.
WRONG = [
    ("/blank/diameter_mm", "40", "", "a number"),
    ("/blank/diameter_mm", True, "", "a number"),
    ("/blank/diameter_mm", None, "", "a number"),
    ("/blank/diameter_mm", float("nan"), "", "a finite number"),
    ("/blank/diameter_mm", float("inf"), "", "a finite number"),
    ("/blank/diameter_mm", float("-inf"), "", "a finite number"),
    ("/blank/diameter_mm", 10**400, "", "a finite number"),
    ("/blank/diameter_mm", 0, "", "a number of 0.001 or more"),
    ("/blank/length_mm", 10_000.1, "", "a number of 10000 or less"),
    ("/blank/length_mm", ..., "", "this field is needed"),
    ("/blank/shape", "cube", "", "one of cylinder, cone, ovoid, stations, grid"),
    ("/blank/shape", 5, "", "one of cylinder, cone, ovoid, stations, grid"),
    ("/blank/shape", ..., "", "this field is needed"),
    ("/blank/cylinder", 5, "", "no field of this name"),
    ("/blank/keep_out", [{"from_mm": 5, "to_mm": 5}], "/0/to_mm", "above from_mm"),
    ("/blank", 5, "", "an object"),
    ("/blank", put(TWO, "/stations/1/diameter_mm", "4"), "/stations/1/diameter_mm", "a number"),
    ("/blank", put(TWO, "/stations/1", ...), "/stations", "at least 2 entries"),
    ("/schema", "roundwright.job/2", "", "one of roundwright.job/1"),
    ("/schema", ..., "", "this field is needed"),
    ("/name", "", "", "at least 1 character"),
    ("/name", "a\nb", "", "control characters"),
    ("/name", "half \ud800 of a pair", "", "whole characters"),
    ("/artwork/0/name", "\udc00", "", "whole characters"),
    ("/colour", "green", "", "no field of this name"),
    ("/artwork/0/colour", "green", "", "no field of this name"),
    ("/artwork/0/placement", {"x_mm": 1, "x/y~z": 1}, "/x~1y~0z", "no field of this name"),
    ("/artwork/0/placement/projection", "mercator", "", "one of equidistant, conformal"),
    ("/artwork/0/placement/mirror", 1, "", "true or false"),
    ("/artwork/0/marking/style", "spray", "", "one of outline, hatch"),
    ("/artwork/0/marking/pitch_mm", 0, "", "a number of 0.01 or more"),
    ("/artwork/0/marking/hatch", 1, "", "no field of this name"),
    ("/artwork/0/passes", 1.5, "", "a whole number"),
    ("/artwork/0/passes", True, "", "a whole number"),
    ("/artwork/0/tone", {"threshold": {"a": 1}}, "/threshold", ""),
    ("/artwork/0/tone", {"threshold": 256}, "/threshold", ""),
    ("/artwork/0/asset", "d" * 64, "", "picture or drawing that was uploaded"),
    ("/artwork/0/asset", TABLE, "", "picture or drawing that was uploaded"),
    ("/artwork/0/tool", "cone-90", "", "a tool of this shop: ball-1, cone-60"),
    ("/machine", 5, "", "an object"),
    ("/machine", "lathe", "", "a machine profile of this shop: bench"),
    ("/machine", {"profile": "lathe"}, "/profile", "a machine profile of this shop: bench"),
    ("/machine", {"decimals": 7}, "/decimals", "a number of 6 or less"),
    ("/machine", {"document": {"document": 1}}, "/document", "no field of this name"),
    ("/machine", {"header": ["M8\nM3"]}, "/header/0", "control characters"),
    ("/machine", {"spindle": {"collet_mm": "8"}}, "/spindle/collet_mm", "a number"),
    ("/machine", {"spindle": {"nose_mm": 0}}, "/spindle/nose_mm", "a number above 0"),
    ("/machine", {"spindle": {"nose": 30}}, "/spindle/nose", "no field of this name"),
    ("/machine", {"spindle": 30}, "/spindle", "an object"),
    ("/machine", {"axis_error_mm": -0.1}, "/axis_error_mm", "a number of 0 or more"),
    ("/tools", [{"id": "a", "stick_out_mm": 0}], "/0/stick_out_mm", "a number above 0"),
    ("/tools", [{"id": "a", "shank_mm": True}], "/0/shank_mm", "a number"),
    ("/tools", [{"id": "a", "flute_mm": 201}], "/0/flute_mm", "a number of 200 or less"),
    ("/tools", [{"id": "a", "flute_mm": 9, "stick_out_mm": 8}], "/0/flute_mm", "not be above stick_out_mm"),
    ("/acknowledged", "all", "", "a list"),
]


@pytest.mark.parametrize(("place", "value", "end", "allowed"), WRONG)
def test_each_wrong_thing_is_told_by_its_pointer(place, value, end, allowed):
    told = problems(put(LEAST, place, value))
    assert list(told) == [place + end]
    given_, said = told[place + end]
    assert allowed in said
    if isinstance(value, float | int) and abs(value) < 1e300:
        assert given_ == value


@pytest.mark.parametrize("levels", [65, 100, 50_000])
def test_nesting_beyond_64_levels_is_refused_before_anything_recurses(levels):
    deep = 1
    for _ in range(levels):
        deep = [deep]
    assert list(problems(put(LEAST, "/name", deep))) == [""]
    assert list(problems(deep)) == [""]


@pytest.mark.parametrize("document", [None, [], 5, "text", True, {}, {1: 2}, {(1, 2): 3}, {"name": {1, 2}}, object()])
def test_what_is_no_job_at_all_is_refused(document):
    assert problems(document)


def test_all_that_is_wrong_is_told_at_once():
    wrong = put(put(put(LEAST, "/blank/diameter_mm", "x"), "/artwork/0/depth_mm", -1), "/machine", {"what": 1})
    assert sorted(problems(wrong)) == ["/artwork/0/depth_mm", "/blank/diameter_mm", "/machine/what"]


def test_all_names_and_readings_that_do_not_fit_are_told_at_once():
    wrong = LEAST | {"blank": OVOID | {"shift_mm": 40}, "machine": {"axes": {"axial": {"letter": "Z"}}}}
    wrong = put(put(wrong, "/artwork/0/asset", "none"), "/artwork/0/tool", "none")
    told = problems(wrong)
    assert list(told) == ["/artwork/0/asset", "/artwork/0/tool", "/blank/shift_mm", "/machine/axes"]
    assert told["/blank/shift_mm"][0] == 40


def test_a_tool_that_is_not_there_is_told_and_an_id_that_stands_twice():
    art = [LEAST["artwork"][0] | {"tool": tool} for tool in ("cone-60", "ball-1", "nothing", "cone-60")]
    assert list(problems(LEAST | {"artwork": art})) == ["/artwork/2/tool"]
    twice = LEAST | {"tools": [{"id": "a"}, {"id": "b"}, {"id": "a"}]}
    assert list(problems(twice)) == ["/tools/2/id"]
    assert read_job(LEAST | {"tools": [{"id": "mine", "form": "flat"}]}, known=KNOWN).tools[0].form is Form.FLAT


@pytest.mark.parametrize(
    ("blank", "place"),
    [
        (OVOID | {"shift_mm": 30}, "/blank/shift_mm"),
        (OVOID | {"quarter_diameter_mm": 45}, "/blank/quarter_diameter_mm"),
        (OVOID | {"quarter_diameter_mm": 0.001}, "/blank/quarter_diameter_mm"),
        (put(TWO, "/stations/1/x_mm", 0), "/blank/stations/1/x_mm"),
        (put(TWO, "/stations/1/x_mm", -3), "/blank/stations/1/x_mm"),
        ({"shape": "grid", "asset": DRAWING}, "/blank/asset"),
        ({"shape": "grid", "asset": "none"}, "/blank/asset"),
    ],
)
def test_readings_that_give_no_skin_are_told_before_any_planning(blank, place):
    assert list(problems(LEAST | {"blank": blank})) == [place]


def test_a_tool_whose_tip_is_wider_than_its_shank_is_told():
    wide = LEAST | {"tools": [{"id": "a", "tip_mm": 4}]}
    ((place, (_, said)),) = problems(wide).items()
    assert place == "/tools/0" and "tip_mm must be less" in said


def test_a_job_without_art_is_a_job():
    job = read_job(put(LEAST, "/artwork", ...), known=Known())
    assert job.items == () and job.tools == (Tool(),) and job.rpm(Tool()) == 0


def test_the_known_places_are_looked_at_in_any_order():
    """The order of a document's fields changes nothing."""
    rng = random.Random(3)

    def shuffled(value):
        if isinstance(value, dict):
            return {k: shuffled(value[k]) for k in rng.sample(list(value), len(value))}
        return [shuffled(v) for v in value] if isinstance(value, list) else value

    a, b = read_job(FULL, known=KNOWN), read_job(shuffled(FULL), known=KNOWN)
    assert (a.items, a.machine, a.tools, a.defaults) == (b.items, b.machine, b.tools, b.defaults)
