"""From mesh to measured skin: true within its own stated error, and everything that it cannot hold is told."""

from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.errors import BlankError
from engine.kernel.findings import Severity
from engine.measure.scan import Mesh, find_axis, read_mesh, scan_skin
from tests.measure.scan import bodies
from tests.measure.scan.bodies import ALONG_X

X = np.linspace(0.0, 100.0, 126)
THETA = np.arange(200) * (2 * np.pi / 200)


def lobed(x, theta):
    return 30 + 5 * np.sin(x / 20) + 1.5 * np.cos(3 * theta)


GOURD = bodies.revolved(X, lobed(X[:, None], THETA), 200)


def codes(skin):
    return [finding.code for finding in skin.findings]


def pierced(mesh, x, angle, size, radius=30.0):
    """Without the facets whose middle is nearer than `size` to a place of the skin."""
    middle = mesh.vertices[mesh.faces].mean(axis=1)
    around = radius * np.angle(np.exp(1j * (np.arctan2(middle[:, 2], middle[:, 1]) - angle)))
    return Mesh(vertices=mesh.vertices, faces=mesh.faces[np.hypot(middle[:, 0] - x, around) >= size])


def test_a_whole_body_is_known_everywhere_and_true_within_its_sigma():
    skin = scan_skin(GOURD, ALONG_X)
    assert codes(skin) == []
    assert skin.radius_mm.shape == (241, 360) and skin.known.all()
    np.testing.assert_allclose(skin.x_mm[[0, -1]], [0, 100], atol=0.002)
    np.testing.assert_allclose(np.diff(skin.x_mm), np.diff(skin.x_mm)[0], rtol=1e-9)
    error = lobed(skin.x_mm[:, None], skin.theta_rad) - skin.radius_mm
    assert 0.5 < np.sqrt((error**2).mean() / (skin.sigma_mm**2).mean()) < 1.3
    assert dict(skin.how)["axis"] == "given" and "none" in dict(skin.how)["smoothing"]


def test_noise_of_the_scanner_is_in_the_sigma():
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 0.03, (len(GOURD.vertices), 1)) * GOURD.vertices * [0, 1, 1] / 30
    skin = scan_skin(Mesh(vertices=GOURD.vertices + noise, faces=GOURD.faces), ALONG_X)
    error = lobed(skin.x_mm[:, None], skin.theta_rad) - skin.radius_mm
    assert 0.5 < np.sqrt((error**2).mean() / (skin.sigma_mm**2).mean()) < 1.5


def test_an_egg_is_cut_back_at_its_poles_and_true_to_the_published_curve():
    """The egg of the published curve (`bodies`). At the cut the skin leans by 80 degrees at most."""
    x = -28 * np.cos(np.linspace(0, np.pi, 241))
    skin = scan_skin(bodies.revolved(x, np.maximum(bodies.egg(x), 1e-9), 240))
    assert codes(skin) == ["end-cut-back", "end-cut-back"]
    assert all(finding.severity is Severity.NOTE for finding in skin.findings)
    assert 0 < skin.x_mm[0] < 0.7 and 55.3 < skin.x_mm[-1] < 56
    error = bodies.egg(skin.x_mm - 28)[:, None] - skin.radius_mm
    assert np.abs(error).max() < 0.005
    assert 0.5 < np.sqrt((error**2).mean() / (skin.sigma_mm**2).mean()) < 1.3
    assert (skin.radius_mm > 2).all()


@pytest.mark.parametrize("angle", [0.0, 2.0, np.pi])
def test_a_hole_is_told_filled_and_marked(angle):
    skin = scan_skin(pierced(GOURD, 40.0, angle, 8.0), ALONG_X)
    assert codes(skin) == ["scan-hole"]
    where = skin.findings[0].where
    assert where.x_mm == pytest.approx(40.0, abs=0.5)
    assert abs(np.angle(np.exp(1j * (np.radians(where.angle_deg) - angle)))) < 0.02
    assert "16 mm along" in skin.findings[0].message or "17 mm along" in skin.findings[0].message
    error = lobed(skin.x_mm[:, None], skin.theta_rad) - skin.radius_mm
    hole = ~skin.known
    assert 0.003 < hole.mean() < 0.02
    assert np.sqrt((error[hole] ** 2).mean()) < 1.5 * np.sqrt((skin.sigma_mm[hole] ** 2).mean()) < 0.05
    assert skin.sigma_mm[hole].max() > 2 * skin.sigma_mm[skin.known].max()


def test_an_open_end_is_cut_where_less_than_half_a_ring_is_met():
    middle = GOURD.vertices[GOURD.faces].mean(axis=1)
    slanted = Mesh(vertices=GOURD.vertices, faces=GOURD.faces[middle[:, 0] < 90 + middle[:, 1] / 10])
    skin = scan_skin(slanted, ALONG_X)
    assert codes(skin)[0] == "end-cut-back" and set(codes(skin)[1:]) == {"scan-hole"}
    assert skin.x_mm[-1] == pytest.approx(90.0, abs=1.0)
    error = lobed(skin.x_mm[:, None], skin.theta_rad) - skin.radius_mm
    assert np.abs(error[~skin.known]).max() < 5 * skin.sigma_mm[~skin.known].max()


def test_an_overhang_is_told_where_it_is_and_how_deep():
    x = np.array([0.0, 20.0, 20.0, 14.0, 14.0, 26.0, 30.0])
    skin = scan_skin(bodies.revolved(x, np.array([5.0, 5.0, 9.0, 9.0, 12.0, 12.0, 4.0]), 48), ALONG_X)
    assert codes(skin) == ["scan-undercut"]
    assert skin.findings[0].severity is Severity.WARNING and "7 mm" in skin.findings[0].message
    assert 14 <= skin.findings[0].where.x_mm <= 20


def test_a_vessel_has_its_wall_told():
    x = np.array([0.0, 60.0, 60.0, 5.0])
    skin = scan_skin(bodies.revolved(x, np.array([20.0, 20.0, 17.5, 17.5]), 90), ALONG_X)
    assert codes(skin) == ["inner-skin"]
    assert "2.50 mm" in skin.findings[0].message


@pytest.mark.parametrize("turned", [1, -1])
def test_the_inner_skin_is_not_taken_for_the_outer_one_in_its_holes(turned):
    x = np.concatenate([np.linspace(0.0, 60.0, 61), np.linspace(60.0, 5.0, 56)])
    vessel = bodies.revolved(x, np.repeat([20.0, 17.5], [61, 56]), 90)
    middle = vessel.vertices[vessel.faces].mean(axis=1)
    gone = (np.abs(middle[:, 0] - 30) < 4) & (middle[:, 1] > 19)
    skin = scan_skin(Mesh(vertices=vessel.vertices, faces=vessel.faces[~gone][:, ::turned]), ALONG_X)
    assert codes(skin) == ["scan-hole", "inner-skin"]
    assert (skin.radius_mm > 19.9).all() and not skin.known[120, 0]


@pytest.mark.parametrize("turned", [1, -1])
def test_a_piece_scanned_twice_with_a_gap_between_is_told_and_the_gap_is_in_the_error(turned):
    again = GOURD.vertices + [0.0, 0.4, 0.0]
    both = Mesh(
        vertices=np.concatenate([GOURD.vertices, again]),
        faces=np.concatenate([GOURD.faces, GOURD.faces + len(again)])[:, ::turned],
    )
    skin, once = scan_skin(both, ALONG_X), scan_skin(GOURD, ALONG_X)
    assert "skin-twice" in codes(skin) and "inner-skin" not in codes(skin) and "skin-twice" not in codes(once)
    told = next(f for f in skin.findings if f.code == "skin-twice")
    assert "0.4" in told.message and told.severity.value == "warning"
    off = skin.radius_mm - once.radius_mm
    assert 0.8 < np.sqrt((off**2).mean() / (skin.sigma_mm**2).mean()) < 1.6
    assert skin.sigma_mm[:, 90].max() < 0.1 < skin.sigma_mm[:, 0].min()  # square to the shift the two are one


def test_only_the_largest_holes_are_listed_and_the_rest_counted():
    mesh = GOURD
    for k in range(9):
        mesh = pierced(mesh, 10.0 + 9 * k, k, 2.0 + 0.3 * k)
    skin = scan_skin(mesh, ALONG_X)
    assert codes(skin) == ["scan-hole"] * 6 + ["more-holes"]
    assert skin.findings[-1].message.startswith("3 ")
    assert skin.findings[0].where.x_mm == pytest.approx(82.0, abs=0.5)


def test_a_scan_in_inches_is_the_same_piece():
    whole = scan_skin(GOURD, ALONG_X)
    inch = scan_skin(Mesh(vertices=GOURD.vertices / 25.4, faces=GOURD.faces), ALONG_X, unit_mm=25.4)
    np.testing.assert_allclose(inch.radius_mm, whole.radius_mm, atol=1e-9)
    assert codes(inch) == []


@pytest.mark.parametrize(("factor", "unit_mm"), [(1 / 100, 1.0), (11.0, 1.0), (1.0, 25.4)])
def test_an_unlikely_size_is_told(factor, unit_mm):
    skin = scan_skin(GOURD.scaled(factor), ALONG_X, unit_mm=unit_mm, step_mm=factor * unit_mm)
    assert "unit" in codes(skin)


def test_a_step_is_never_exceeded_and_the_angles_are_those_asked_for():
    skin = scan_skin(GOURD, ALONG_X, step_mm=3.0, angles=45)
    assert skin.radius_mm.shape == (35, 45)
    assert (np.diff(skin.x_mm) <= 3.0).all()


def test_a_tilted_axis_gives_runout_and_the_found_one_none():
    tilted = scan_skin(GOURD, ALONG_X.shifted(0.4, 0.0))
    assert np.median(tilted.runout[0]) == pytest.approx(0.4, abs=0.02)
    found = scan_skin(GOURD, find_axis(GOURD))
    assert found.runout[0].max() < 0.005


def test_a_ball_keeps_the_doubt_about_its_axis():
    assert "axis-unsure" in codes(scan_skin(bodies.spheroid(25.0, 25.0, 60, 60)))


def test_from_the_bytes_of_a_file_to_the_skin():
    skin = scan_skin(read_mesh(bodies.binary_stl(GOURD)), ALONG_X)
    assert codes(skin) == []
    np.testing.assert_allclose(skin.radius_mm, scan_skin(GOURD, ALONG_X).radius_mm, atol=1e-5)


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"unit_mm": 10.0}, "/unit"),
        ({"step_mm": 0.0}, "/step_mm"),
        ({"step_mm": np.nan}, "/step_mm"),
        ({"step_mm": 1e-9}, "/step_mm"),
        ({"angles": 1}, "/step_mm"),
        ({"step_mm": 40.0}, "/asset"),
        ({"axis": ALONG_X.shifted(80.0, 0.0)}, "/asset"),
    ],
)
def test_what_cannot_be_done_is_refused_with_what_to_do(given, where):
    with pytest.raises(BlankError) as caught:
        scan_skin(GOURD, **{"axis": ALONG_X, **given})
    assert caught.value.where == where and caught.value.hint


def test_a_single_sheet_is_refused():
    with pytest.raises(BlankError) as caught:
        scan_skin(Mesh(vertices=np.eye(3) * 20, faces=np.array([[0, 1, 2]])))
    assert caught.value.hint


@given(st.integers(0, 2**32 - 1), st.integers(1, 40), st.sampled_from([1e-6, 1.0, 1e4]), st.booleans())
@settings(derandomize=True, deadline=None, max_examples=60)
def test_any_mesh_gives_a_skin_or_a_refusal(seed, faces, size, holed):
    """Random triangles, or a body with many facets taken away and some vertices thrown about."""
    rng = np.random.default_rng(seed)
    body = bodies.revolved(np.linspace(0, 40, 9), np.full(9, 15.0), 12)
    if holed:
        points = body.vertices.copy()
        points[rng.integers(0, len(points), 3)] += rng.normal(0, 5, (3, 3))
        triangles = body.faces[rng.random(len(body.faces)) < rng.random()][:, ::-1]
    else:
        points, triangles = rng.normal(0, 10, (9, 3)), rng.integers(0, 9, (faces, 3))
    with suppress(BlankError):
        skin = scan_skin(Mesh(vertices=points * size, faces=triangles), step_mm=2.0 * size, angles=24)
        assert (skin.radius_mm > 0).all() and (skin.sigma_mm > 0).all()
        assert np.isfinite(skin.radius_mm).all() and np.isfinite(skin.sigma_mm).all()


def wedge(width):
    """The gourd without a wedge of so many radians of its side; its ends stay."""
    middle = GOURD.vertices[GOURD.faces].mean(axis=1)
    around = np.arctan2(middle[:, 2], middle[:, 1])
    side = np.hypot(middle[:, 1], middle[:, 2]) > 22
    return Mesh(vertices=GOURD.vertices, faces=GOURD.faces[~side | (np.abs(around) > width / 2)])


def opposite(width):
    """The same without the wedge on the other side either: its faces' area vectors sum to nothing."""
    mesh = wedge(width)
    middle = mesh.vertices[mesh.faces].mean(axis=1)
    side = np.hypot(middle[:, 1], middle[:, 2]) > 22
    kept = ~side | (np.abs(np.arctan2(middle[:, 2], middle[:, 1])) < np.pi - width / 2)
    return Mesh(vertices=mesh.vertices, faces=mesh.faces[kept])


def open_told(findings):
    return [f for f in findings if f.code == "axis-unsure" and "does not close" in f.message]


def test_an_axis_found_on_a_scan_that_does_not_close_is_a_guess():
    assert open_told(find_axis(wedge(0.5)).findings) and not find_axis(GOURD).findings
    assert open_told(scan_skin(wedge(0.5)).findings)
    assert not open_told(scan_skin(wedge(0.5), ALONG_X).findings)
    assert not open_told(find_axis(wedge(0.5)).shifted(0.1, 0.0).findings)


def test_an_axis_found_where_rays_miss_the_piece_is_a_guess():
    found = find_axis(opposite(0.3))
    assert not found.findings
    (told,) = open_told(scan_skin(opposite(0.3), found).findings)
    assert "of the rays miss it" in told.message and told.severity is Severity.WARNING
    assert not open_told(scan_skin(opposite(0.3), found.shifted(1e-9, 0.0)).findings)


def test_a_piece_of_a_few_mm_has_its_unit_doubted():
    assert "unit" in codes(scan_skin(GOURD.scaled(1 / 25.4), ALONG_X))
    assert "unit" not in codes(scan_skin(GOURD.scaled(0.11), ALONG_X))
