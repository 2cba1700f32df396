"""The found edge against the true one that the ray caster knows, and what is said of bad photographs."""

import numpy as np
import pytest
from scipy import ndimage

from engine.kernel.errors import BlankError
from engine.measure.photographs import find_edge
from engine.measure.photographs.outline import outward
from tests.measure.photographs import pieces, renderer


def off_px(kind, setting, edge, beta_deg=30.0, seed=3):
    """Distance of every well measured point from the true edge."""
    off = renderer.off_edge_px(kind, beta_deg, setting, edge.points_px, outward(edge.points_px), seed)[edge.ok]
    assert np.isfinite(off).all()
    return off


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


SHARP = {"sharpen": 0.8}
FAULTS = {
    "noise, gradient light and a soft shadow": ({}, 0.1, 0.95),
    "turned upright, leaning and bent by the lens": ({"x_axis": 30.0, "pitch_deg": 3.0, "k1": -0.08}, 0.1, 0.95),
    "sharpened by the camera": (SHARP, 0.15, 0.95),
    "sharpened hard": ({"sharpen": 1.5, "sharpen_px": 0.8}, 0.15, 0.95),
    "highlights at the limb": ({"gloss": 0.6}, 0.1, 0.6),
    "polished": ({"sheen": 0.3}, 0.1, 0.95),
    "of nearly the paper's colour": ({"body": (0.60, 0.56, 0.46)}, 0.15, 0.6),
    "a black piece, sharpened": ({"body": (0.04, 0.035, 0.03), **SHARP}, 0.15, 0.95),
    "before blue cloth, sharpened": ({"paper": (0.1, 0.2, 0.6), **SHARP}, 0.15, 0.95),
}


@pytest.mark.parametrize("name", FAULTS)
def test_the_found_edge_is_the_true_one(name):
    faults, bar_px, share = FAULTS[name]
    setting = renderer.Setting(**renderer.SMALL, **faults)
    picture, _ = renderer.photograph(pieces.GOURD, 30.0, setting, seed=3)
    edge = find_edge(picture)
    assert rms(off_px(pieces.GOURD, setting, edge)) < bar_px
    assert edge.ok.mean() > share
    assert edge.findings == ()


def codes(picture, **more):
    edge = find_edge(np.ascontiguousarray(picture), **more)
    for finding in edge.findings:
        assert finding.message and finding.advice
    return {(f.severity.value, f.code) for f in edge.findings}


@pytest.fixture(scope="module")
def ribbed():
    setting = renderer.Setting(**renderer.SMALL)
    return renderer.photograph(pieces.RIBBED, 10.0, setting, seed=1)[0]


def blurred(picture, sigma):
    return np.stack([ndimage.gaussian_filter(picture[..., c].astype(float), sigma) for c in range(3)], -1).astype(
        np.uint8
    )


BAD = {
    "all white": (lambda p: np.full_like(p, 250), ("error", "no-body")),
    "noise": (
        lambda p: np.random.default_rng(1).normal(235, 6, p.shape).clip(0, 255).astype(np.uint8),
        ("error", "no-body"),
    ),
    "black": (np.zeros_like, ("error", "no-body")),
    "blurred": (lambda p: blurred(p, 9.0), ("error", "blurred")),
    "a little blurred": (lambda p: blurred(p, 4.0), ("warning", "blurred")),
    "cropped through the body": (lambda p: p[:, : p.shape[1] // 2], ("error", "touches-border")),
    "cropped above": (lambda p: p[p.shape[0] // 3 :], ("error", "touches-border")),
    "two bodies": (lambda p: np.concatenate([p, p[:, ::-1]], 1), ("warning", "several-bodies")),
    "body fills it": (lambda p: p[400:800, 500:1100], ("error", "no-body")),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_photograph_is_told_with_what_to_do(ribbed, name):
    spoil, told = BAD[name]
    assert codes(spoil(ribbed)) == {told}


def test_a_good_photograph_has_nothing_told(ribbed):
    assert codes(ribbed) == set()


def test_what_is_no_photograph_is_refused():
    good = np.full((80, 90, 3), 200, np.uint8)
    for bad in (good[..., 0], good.astype(float), good[:40]):
        with pytest.raises(BlankError):
            find_edge(bad)
    for threshold in (0.0, float("nan"), -3.0):
        with pytest.raises(BlankError):
            find_edge(good, threshold=threshold)
    for axis in ([[0, 0], [0, 0]], [[0, 0]], [[0, float("nan")], [5, 5]]):
        with pytest.raises(BlankError):
            find_edge(good, axis_px=np.array(axis))


def test_a_large_photograph_with_every_fault():
    faults = {"k1": -0.08, "sharpen": 0.8, "gloss": 0.5, "sheen": 0.1, "wobble_mm": 0.3, "hardware_mm": 9.0}
    setting = renderer.Setting(width=2832, height=2128, px_per_mm=21.24, **faults)  # 6 MP; 12 take a minute to draw
    picture, ends = renderer.photograph(pieces.GOURD, 30.0, setting, seed=3)
    assert "touches-border" in {f.code for f in find_edge(picture).findings}
    edge = find_edge(picture, axis_px=ends)
    assert rms(off_px(pieces.GOURD, setting, edge)) < 0.15
    assert edge.ok.mean() > 0.6
    assert edge.findings == ()


def test_the_outline_is_closed_even_and_inside_the_picture(ribbed):
    edge = find_edge(ribbed)
    step = np.hypot(*np.diff(np.vstack([edge.points_px, edge.points_px[:1]]), axis=0).T)
    assert step.min() > 2.0 and step.max() < 4.5
    assert edge.size_px == (1600, 1200) and edge.points_px.min() > 0 and (edge.points_px < edge.size_px).all()
    assert not edge.points_px.flags.writeable and not edge.ok.flags.writeable


def test_the_field_of_distance_gives_the_mask_at_any_threshold(ribbed):
    edge = find_edge(ribbed)
    assert edge.distance.shape == (1200 // edge.mask_scale, 1600 // edge.mask_scale)
    mask = edge.distance * edge.distance_step > edge.threshold
    x, y = edge.points_px.T
    covered = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    assert mask.sum() * edge.mask_scale**2 == pytest.approx(covered, rel=0.01)


def test_a_threshold_given_is_used_and_the_edge_stays_at_half_light(ribbed):
    edge = find_edge(ribbed)
    other = find_edge(ribbed, threshold=1.4 * edge.otsu)
    assert other.threshold == 1.4 * edge.otsu and other.otsu == edge.otsu
    middle = np.median(other.points_px[other.ok], axis=0)
    assert middle == pytest.approx(np.median(edge.points_px[edge.ok], axis=0), abs=2.0)
    apart = [np.hypot(*(edge.points_px - p).T).min() for p in other.points_px[other.ok]]
    assert np.max(apart) < 2.0
    assert rms(off_px(pieces.RIBBED, renderer.Setting(**renderer.SMALL), other, 10.0, 1)) < 0.1
    assert codes(ribbed, threshold=150.0) == {("error", "no-body")}
