"""The doors to measuring: whatever is wrong with what was sent, the place that is told is a field of it."""

from io import BytesIO

import numpy as np
import pytest
from PIL import Image

import engine
from engine.kernel.errors import EngineError
from tests.measuring.test_scanned import MESH

BAR = {"shape": "cylinder", "diameter_mm": 50, "length_mm": 100}
STATIONS = [{"x_mm": x, "diameter_mm": 40 + x / 4} for x in range(0, 81, 10)]
EGG = {"shape": "ovoid", "length_mm": 60, "breadth_mm": 44, "shift_mm": 3, "quarter_diameter_mm": 35}
JOB = {"schema": "roundwright.job/1", "name": "Gourd", "blank": BAR | {"diameter_mm": "wide"}}
ON_SKIN = {"z_zero": "surface"}
SHORT = {"axes": {"axial": {"max_mm": 1}}}
HEAD = "x_mm,angle_deg,radius_mm\n"


def jpeg(picture):
    data = BytesIO()
    Image.fromarray(picture).save(data, "JPEG", quality=92)
    return data.getvalue()


def rows(xs=range(10, 91, 10), angles=range(0, 360, 30), radius_mm=25.0):
    return (HEAD + "\n".join(f"{x},{a},{radius_mm}" for x in xs for a in angles)).encode()


WHITE = np.full((300, 400, 3), 250, np.uint8)
BARRED = WHITE.copy()
BARRED[100:200, 20:380] = 90
FILES = {
    "good": rows(),
    "few": rows(xs=(10, 20)),
    "one x": rows(xs=[50] * 12),
    "aside": rows(angles=range(0, 120, 10)),
    "below": rows(radius_mm=-3),
    "empty": b"",
    "words": b"one two three\n" * 20,
    "fixed": b"[touch:1.0,2.0,3.0,0.0:0]\n" * 30,
    "mesh": MESH,
    "torn": MESH[: len(MESH) // 2],
    "white": jpeg(WHITE),
    "barred": jpeg(BARRED),
    "small": jpeg(BARRED[::2, ::2].copy()),
    "cut": jpeg(BARRED)[:900],
}
KINDS = dict.fromkeys(("white", "barred", "small", "cut"), "raster") | {"mesh": "mesh", "torn": "mesh"}
PHOTOS = [{"asset": "barred", "angle_deg": 90 * k} for k in range(4)]
AXIS = {"from_px": [20, 150], "to_px": [380, 150]}
SHOTS = {"photos": PHOTOS, "axis": AXIS, "length_mm": 90, "camera_mm": 300}
LOGGED = {"log": "good", "tip_radius_mm": 1}
PROBED = {"blank": BAR, "stations": [20, 50, 80], "angles": 6, "tip_radius_mm": 1}
MARKS = [
    {"first": {"x_mm": x, "angle_deg": a}, "second": {"x_mm": 100 - x, "angle_deg": -a}}
    for x, a in ((20, 10), (70, 90))
]
ENDS = {"first": BAR, "second": BAR, "marks": MARKS}
GRID = {"asset": "good", "angle_unit": "degrees"}
SCAN = {"asset": "mesh", "unit": "mm"}
BAD_BLANKS = [
    {"shape": "stations", "stations": [{"x_mm": 5, "diameter_mm": 4}] * 2},
    {"shape": "ovoid", "length_mm": 60, "breadth_mm": 40, "shift_mm": 40, "quarter_diameter_mm": 20},
    {"shape": "grid", "asset": "few"},
    {"shape": "grid", "asset": "words"},
    {"shape": "scan", "asset": "torn", "unit": "mm"},
    {"shape": "scan", **SCAN, "axis": {"origin": [0, 500, 0], "direction": [1, 0, 0]}},
    {"shape": "scan", **SCAN, "axis": {"origin": [0, 0, 0], "direction": [0, 0, 0]}},
    {"shape": "silhouettes", **SHOTS, "photos": [{"asset": "white", "angle_deg": 0}]},
    {"shape": "silhouettes", **SHOTS, "photos": [{"asset": "cut", "angle_deg": 0}]},
    {"shape": "silhouettes", **SHOTS, "axis": {"from_px": [9, 9], "to_px": [9, 9]}},
    {"shape": "silhouettes", **SHOTS, "k1": -0.5, "k2": -0.5},
    {"shape": "barrel"},
    {},
    "round",
]
BAD = {
    "callipers": [
        {"stations": [*STATIONS, STATIONS[0]]},
        {"stations": [*STATIONS, {"x_mm": 90, "diameter_mm": 20, "across_mm": 0}]},
        {"stations": {}},
        {"stations": STATIONS, "reading_error_mm": -1},
    ],
    "ovoid": [
        {"stations": [{**station, "across_mm": 30} for station in STATIONS]},
        {"stations": STATIONS[:2]},
        {"stations": STATIONS, "length_mm": 20},
    ],
    "correct": [{"blank": BAR, **LOGGED, "log": name} for name in ("empty", "words", "fixed")]
    + [{"blank": BAR, **LOGGED, "machine": "none"}, {"blank": BAR, **LOGGED, "machine": ON_SKIN}]
    + [{"blank": blank, **LOGGED} for blank in BAD_BLANKS],
    "rechuck": [{"blank": BAR, **LOGGED, "log": name} for name in ("empty", "words", "fixed")]
    + [{"blank": BAR, **LOGGED, "job": JOB}]
    + [{"blank": blank, **LOGGED} for blank in BAD_BLANKS],
    "end-for-end": [{**ENDS, "first": blank} for blank in BAD_BLANKS]
    + [{**ENDS, "second": blank} for blank in BAD_BLANKS]
    + [{**ENDS, "marks": [MARKS[0]]}],
    "grid": [{**GRID, "asset": name} for name in ("few", "one x", "aside", "below", "empty", "words", "mesh")]
    + [{**GRID, "columns": {"x": "nowhere"}}, {**GRID, "angle_unit": "turns"}],
    "lens": [{"photos": ["white", "white"]}, {"photos": ["cut"]}, {"photos": []}],
    "scan": [
        {**SCAN, "unit": "inch"},
        {**SCAN, "asset": "torn"},
        {**SCAN, "axis": {"origin": [0, 500, 0], "direction": [1, 0, 0]}},
        {**SCAN, "axis": {"origin": [0, 0, 0], "direction": [0, 0, 0]}},
        {**SCAN, "axis": {"origin": [0, 0]}},
        {**SCAN, "axis": {}},
        {**SCAN, "axis": 5},
    ],
    "probe-program": [{**PROBED, "blank": blank} for blank in BAD_BLANKS]
    + [
        {**PROBED, **change}
        for change in (
            {"machine": "shop"},
            {"stations": [20, 20]},
            {"stations": [500]},
            {"stations": np.linspace(1, 99, 1000).tolist(), "angles": 720},
            {"angles": [0, 360]},
            {"angles": {}},
            {"angles": "six"},
            {"machine": ON_SKIN},
            {"machine": ON_SKIN | {"touch_off": {"x_mm": 0}}, "blank": EGG},
            {"machine": SHORT},
            {"machine": "none"},
            {"machine": {"axes": {"radial": {"max_mm": 26}}}},
            {"machine": {"rotary_unit": "mm-per-turn"}},
            {"tip_radius_mm": 0},
        )
    ],
    "probe-log": [
        {**LOGGED, "log": name} for name in ("few", "one x", "aside", "below", "empty", "words", "fixed", "mesh")
    ]
    + [
        {**LOGGED, **change}
        for change in (
            {"stations": [20]},
            PROBED,
            {"machine": ON_SKIN},
            {"machine": "none"},
            {"unit": "yard"},
        )
    ],
    "silhouettes": [
        {**SHOTS, **change}
        for change in (
            {"photos": [{"asset": "white", "angle_deg": 0}]},
            {"photos": [{"asset": "cut", "angle_deg": 0}]},
            {"photos": [PHOTOS[0], {"asset": "small", "angle_deg": 90}]},
            {"axis": {"from_px": [9, 9], "to_px": [9, 9]}},
            {"axis": {"from_px": [-900, 9], "to_px": [9, 9]}},
            {"camera_mm": 20},
            {"axis_photo": 9},
            {"k1": -0.5, "k2": -0.5},
            {"photos": [{**PHOTOS[0], "exclude": [[[0, 0], [400, 0], [400, 300], [0, 300]]]}]},
        )
    ],
    "turn-program": [{"blank": blank, "angles_deg": [0, 90]} for blank in BAD_BLANKS]
    + [
        {"blank": BAR, "angles_deg": [0, 90], **change}
        for change in (
            {"angles_deg": [0, 0]},
            {"wait": 0},
            {"wait": {}},
            {"wait": "long"},
            {"park_r_mm": 5},
            {"machine": ON_SKIN},
            {"machine": {"axes": {"rotary": {"min_deg": 0, "max_deg": 10}}}},
            {"machine": {"axes": {"radial": {"max_mm": 5}}}},
            {"machine": {"park": {"x_mm": 9000}, "axes": {"axial": {"max_mm": 100}}}},
            {"machine": "none"},
        )
    ],
    "outline": [
        {"photo": {"asset": "cut"}},
        {"photo": {"asset": "barred"}, "axis": {"from_px": [9, 9], "to_px": [9, 9]}},
        {"photo": {"asset": "barred", "include": [[[0, 0], [1, 1]]]}},
    ],
}


CASES = [
    pytest.param(way, document, id=f"{way}-{k}")
    for way, documents in BAD.items()
    for k, document in enumerate(documents)
]


def told(way, document):
    """The pointers of what is wrong; where an answer comes, those of its findings."""
    kinds = {name: KINDS.get(name, "table") for name in FILES}
    machines = {"shop": SHORT}
    try:
        answer = engine.measure(way, document, FILES, known=engine.Known(assets=kinds, machines=machines))
    except engine.JobError as exc:
        return [problem.pointer for problem in exc.problems]
    except EngineError as exc:
        return [exc.where]
    return [f["where"]["pointer"] for f in answer.value["findings"] if "pointer" in f["where"]]


def branches(schema, whole):
    """The schemas that a value of this one may follow."""
    if "$ref" in schema:
        return branches(whole["$defs"][schema["$ref"].rsplit("/", 1)[1]], whole)
    choices = [*schema.get("anyOf", ()), *schema.get("oneOf", ())]
    return [branch for choice in choices for branch in branches(choice, whole)] or [schema]


def is_field(model, document, pointer):
    """Whether a pointer leads to something that was sent, or to a field or an entry that was left out."""
    whole = model.model_json_schema()
    here, may = document, branches(whole, whole)
    for part in pointer.split("/")[1:]:
        inside = [schema.get("items") if part.isdigit() else schema.get("properties", {}).get(part) for schema in may]
        may = [branch for schema in inside if schema for branch in branches(schema, whole)]
        if isinstance(here, list) and part.isdigit():
            here = [*here, None][int(part)]
        elif isinstance(here, dict) and part in here:
            here = here[part]
        elif may and (here is None or isinstance(here, dict)):
            here = None
        else:
            return False
    return pointer.startswith("/")


@pytest.mark.parametrize(("way", "document"), CASES)
def test_every_pointer_names_a_field_of_what_was_sent(way, document):
    pointers = told(way, document)
    assert pointers
    for pointer in pointers:
        assert is_field(engine.WAYS[way].takes, document, pointer), pointer


def test_every_way_names_the_field_of_what_was_measured():
    assert set(BAD) == set(engine.WAYS)
    for way in engine.WAYS.values():
        assert is_field(way.takes, {}, way.measured)
