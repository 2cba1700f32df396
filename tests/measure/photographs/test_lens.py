"""The card is read back from rendered photographs, and the lens they were taken through is found."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.kernel.errors import BlankError
from engine.measure.photographs import CardView, Lens, Paper, card_svg, lens_from_cards, read_card
from engine.measure.photographs.card import ORIGIN, PITCH_MM
from tests.measure.photographs import card_renderer, pieces, renderer

SETTING = renderer.Setting(**renderer.SMALL, k1=-0.08, sharpen=0.8)
SIZE = (SETTING.width, SETTING.height)
HALF = np.hypot(*SIZE) / 2
POSES = [
    {"turn_deg": 80.0, "lean_deg": (30.0, 5.0), "far_mm": 480.0},
    {"turn_deg": 90.0, "lean_deg": (-8.0, 28.0), "far_mm": 460.0},
    {"turn_deg": 0.0, "lean_deg": (-15.0, -40.0), "far_mm": 480.0},
]


@pytest.fixture(scope="module")
def seen():
    return [card_renderer.photograph(card_svg(), SETTING, i, **pose) for i, pose in enumerate(POSES)]


@pytest.fixture(scope="module")
def views(seen):
    return [read_card(picture) for picture, _ in seen]


def bent(perfect, k1):
    """The stated law, written out once more."""
    return perfect * (1 + k1 * (perfect**2).sum(axis=1, keepdims=True) / HALF**2) + np.array(SIZE) / 2


def test_every_dot_found_is_the_dot_it_says(seen, views):
    circles, _ = card_renderer.printed(card_svg())
    for (_, H), view in zip(seen, views, strict=True):
        first = circles[0, :2] + PITCH_MM * np.array(ORIGIN)
        place = np.column_stack([first + PITCH_MM * view.index, np.ones(len(view.index))]) @ H.T
        off = np.hypot(*(view.points_px - bent(place[:, :2] / place[:, 2:], -0.08)).T)
        assert len(np.unique(view.index, axis=0)) == len(view.index) > 250
        assert np.sqrt((off**2).mean()) < 0.25 and off.max() < 1.5


def test_the_lens_is_found_and_its_sigma_is_honest(views):
    lens = lens_from_cards(views)
    assert lens.k1 == pytest.approx(-0.08, abs=0.002)
    assert abs(lens.k1 + 0.08) < 4 * lens.k1_sigma and lens.k1_sigma < 0.001
    assert lens.k2 == 0.0
    assert lens.residual_px < 0.3 and lens.dots > 800


def test_a_perfect_lens_is_found_perfect_from_one_near_card():
    setting = renderer.Setting(**renderer.SMALL)
    view = read_card(card_renderer.photograph(card_svg(Paper.LETTER), setting, turn_deg=90.0, far_mm=300.0)[0])
    assert lens_from_cards([view]).k1 == pytest.approx(0.0, abs=0.001)


def grid_view(k1, k2, lean, seed, noise_px=0.1):
    column, row = np.meshgrid(np.arange(-7, 10), np.arange(-9, 13))
    index = np.stack([column.ravel(), row.ravel()], axis=1)
    flat = np.column_stack([(index - (1, 2)) * 62.0, np.ones(len(index))])
    H = np.array([[0.1, 1.0, 0.0], [-1.0, 0.1, 0.0], [lean[0], lean[1], 1.0]])
    place = flat @ H.T
    perfect = place[:, :2] / place[:, 2:]
    rho2 = (perfect**2).sum(axis=1, keepdims=True) / HALF**2
    at = perfect * (1 + k1 * rho2 + k2 * rho2**2) + np.array(SIZE) / 2
    at += np.random.default_rng(seed).normal(0, noise_px, at.shape)
    inside = ((at > 0) & (at < SIZE)).all(axis=1)
    return CardView(points_px=at[inside], index=index[inside], size_px=SIZE)


def test_a_second_term_is_kept_only_where_it_earns_its_place():
    leans = [(0.0, 0.0), (2e-4, 0.0), (0.0, -2e-4)]
    one = lens_from_cards([grid_view(-0.08, 0.0, lean, i) for i, lean in enumerate(leans)])
    two = lens_from_cards([grid_view(-0.12, 0.06, lean, i) for i, lean in enumerate(leans)])
    assert one.k2 == 0.0 and one.k1 == pytest.approx(-0.08, abs=0.002)
    assert two.k2 == pytest.approx(0.06, abs=0.01) and two.k1 == pytest.approx(-0.12, abs=0.01)


def test_dots_read_wrongly_are_left_out():
    view = grid_view(-0.08, 0.0, (1e-4, 1e-4), 3)
    wild = view.points_px.copy()
    wild[::40] += 9.0
    lens = lens_from_cards([CardView(points_px=wild, index=view.index, size_px=SIZE)])
    assert lens.k1 == pytest.approx(-0.08, abs=0.002)
    assert lens.dots == len(wild) - len(wild[::40])


def test_the_middle_of_a_dots_picture_is_not_where_its_middle_falls():
    """Each dot's image is taken as a fine polygon, its middle by the polygon's own area: nothing stays unexplained."""
    ring = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    H = np.array([[0.2, 1.0, 30.0], [-1.1, 0.1, -20.0], [6e-4, 4e-4, 1.0]])
    index, middles = [], []
    for cell in np.ndindex(15, 18):
        column, row = cell[0] - 6, cell[1] - 8
        wide = 0.65 if (column, row) in {(0, 0), (2, 0), (0, 3)} else 0.4
        edge = np.column_stack([column + wide / 2 * np.cos(ring), row + wide / 2 * np.sin(ring)]) * 62.0
        x, y, w = (np.column_stack([edge, np.ones(400)]) @ H.T).T
        x, y = x / w, y / w
        part = x * np.roll(y, -1) - np.roll(x, -1) * y
        middles.append([(part * (v + np.roll(v, -1))).sum() / (3 * part.sum()) for v in (x, y)])
        index.append((column, row))
    middles = np.array(middles) + np.array(SIZE) / 2
    inside = ((middles > 0) & (middles < SIZE)).all(axis=1)
    lens = lens_from_cards([CardView(points_px=middles[inside], index=np.array(index)[inside], size_px=SIZE)])
    assert lens.dots > 100 and lens.residual_px < 1e-3 and abs(lens.k1) < 1e-5


@given(st.floats(-0.2, 0.3), st.floats(-0.05, 0.1), st.integers(0, 1000))
@settings(derandomize=True, deadline=None, max_examples=60)
def test_undistorting_undoes_distorting(k1, k2, seed):
    try:
        lens = Lens(k1=k1, k2=k2)
    except BlankError:
        assert k1 < -0.1
        return
    px = np.random.default_rng(seed).uniform(0, 1, (50, 2)) * SIZE
    assert lens.distort(lens.undistort(px, SIZE), SIZE) == pytest.approx(px, abs=1e-6)


def test_the_lens_bends_as_the_stated_law_says_and_nought_is_perfect():
    px = np.array([[0.0, 0.0], [800.0, 600.0], [1100.0, 1000.0]])
    assert Lens(k1=-0.08).distort(px, SIZE) == pytest.approx(bent(px - np.array(SIZE) / 2, -0.08))
    assert np.array_equal(Lens().distort(px, SIZE), px) and np.array_equal(Lens().undistort(px, SIZE), px)


@pytest.mark.parametrize("k1", [-0.6, float("nan"), float("inf")])
def test_a_lens_that_folds_the_picture_is_refused(k1):
    with pytest.raises(BlankError):
        Lens(k1=k1)


@pytest.mark.parametrize("paper", list(Paper))
def test_the_card_is_in_true_millimetres_and_fits_the_sheet(paper):
    text = card_svg(paper)
    root = ET.fromstring(text)
    width, height = paper.value
    assert root.get("width") == f"{width}mm" and root.get("viewBox") == f"0 0 {width} {height}"
    circles, _ = card_renderer.printed(text)
    assert (circles[:, :2] - circles[:, 2:] > 6).all() and (
        circles[:, :2] + circles[:, 2:] < (width - 6, height - 6)
    ).all()
    assert np.diff(np.unique(circles[:, 0])) == pytest.approx(10.0, abs=0.011)
    assert (circles[:, 2] > 3).sum() == 3
    bar = root.find("{http://www.w3.org/2000/svg}path").get("d")
    assert bar.endswith("h100") and "measure it" in text
    last = max(float(t.get("y")) for t in root.iter("{http://www.w3.org/2000/svg}text"))
    assert last < height - 6


def bad_cards():
    plain = np.full((600, 800, 3), 230, np.uint8)
    yield "white", plain
    yield "small", plain[:100]
    yield "grey", plain[..., 0]
    yield "noise", np.random.default_rng(2).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    yield "piece", renderer.photograph(pieces.OVAL, 0.0, renderer.Setting(width=800, height=600, px_per_mm=6.0))[0]
    setting = renderer.Setting(width=800, height=600, px_per_mm=6.0)
    yield "corner", card_renderer.photograph(card_svg(), setting, far_mm=330.0, aside_mm=(-90.0, -110.0))[0]
    mirrored = card_renderer.photograph(card_svg(), setting, turn_deg=90.0, far_mm=480.0)[0]
    assert len(read_card(mirrored).index) > 200
    yield "mirrored", mirrored[:, ::-1]


def test_what_is_no_readable_card_is_refused_with_what_to_do():
    for name, picture in bad_cards():
        with pytest.raises(BlankError) as told:
            read_card(np.ascontiguousarray(picture))
        assert told.value.hint, name


def test_views_that_teach_no_lens_are_refused(views):
    middle = views[0].points_px
    near = np.hypot(*(middle - np.array(SIZE) / 2).T) < 0.5 * HALF
    small = CardView(points_px=middle[near], index=views[0].index[near], size_px=SIZE)
    other = CardView(points_px=middle, index=views[0].index, size_px=(3200, 2400))
    for bad in ([], [small], [views[0], other]):
        with pytest.raises(BlankError) as told:
            lens_from_cards(bad)
        assert told.value.hint and told.value.where == "/photos"
