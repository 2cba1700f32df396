"""What the previews are told of how art lies and how it is stretched, also where part of its box cannot be laid."""

from types import SimpleNamespace

import numpy as np
import pytest

from engine.artwork import Drawing
from engine.blank import Cylinder
from engine.kernel.ragged import Ragged
from engine.layout import Placement, Projection, distortion, lay_out
from engine.outcome.preview import WRAP_NODES, Placed, art_arrays
from tests.blank.skins import SKINS


def placed(skin, x_mm, half, projection):
    where = Placement(x_mm=x_mm, angle_deg=30, width_mm=2 * half, projection=projection)
    square = half * np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1], [-1, -1]])
    drawing = Drawing(width_mm=2 * half, height_mm=2 * half, rings=Ragged.of([square]))
    layout = lay_out(skin, where, drawing)
    return Placed(item=SimpleNamespace(placement=where), drawing=drawing, layout=layout, radius_mm=20.0)


def nodes(arrays):
    return np.stack(np.meshgrid(arrays["wrap_u"][0], arrays["wrap_v"][0], indexing="ij"), axis=-1).reshape(-1, 2)


@pytest.mark.parametrize("projection", [Projection.EQUAL_AREA, Projection.TRUE_WIDTH, Projection.FITTED])
def test_each_node_says_where_it_lies_and_its_ellipse(projection):
    art = placed(SKINS["grid"], 60.0, 10.0, projection)
    arrays = art_arrays([art])
    uv = np.clip(nodes(arrays).astype(np.float64), -10, 10)
    x, theta = art.layout.wrap(uv)
    told = distortion(art.layout, uv)
    pairs = {
        "wrap_x": x, "wrap_theta": theta,
        "stretch_greatest": told.greatest, "stretch_least": told.least, "stretch_rad": told.skin_rad,
    }  # fmt: skip
    for name, wanted in pairs.items():
        assert arrays[name].dtype == "<f4" and arrays[name].shape == (1, WRAP_NODES, WRAP_NODES)
        assert np.allclose(arrays[name].ravel(), wanted, rtol=1e-5, atol=1e-5), name


def test_what_the_eye_does_not_see_goes_on_from_what_it_sees():
    """A square wider than the bar: the outer nodes have no ellipse, and lie on in the order of the sheet."""
    arrays = art_arrays([placed(Cylinder(diameter_mm=40, length_mm=90), 45.0, 22.0, Projection.FROM_VIEW)])
    greatest, theta = arrays["stretch_greatest"][0], arrays["wrap_theta"][0]
    seen = np.abs(arrays["wrap_u"][0]) < 19.9
    assert (greatest[seen] >= 1).all() and (greatest[~seen] == 0).all() and not seen.all()
    assert (np.diff(theta, axis=0) > 0).all()
    assert np.allclose(np.sin(theta[seen] - np.radians(30)) * 20, arrays["wrap_u"][0][seen][:, None], atol=1e-4)


def test_art_that_cannot_be_laid_at_all_lies_by_the_centres_own_scale():
    art = placed(Cylinder(diameter_mm=40, length_mm=90), 45.0, 22.0, Projection.EQUIDISTANT)
    off = lay_out(Cylinder(diameter_mm=40, length_mm=10), Placement(x_mm=5.0))
    arrays = art_arrays([Placed(item=art.item, drawing=_shifted(art.drawing), layout=off, radius_mm=20.0)])
    assert (arrays["stretch_greatest"] == 0).all()
    assert np.allclose(np.diff(arrays["wrap_theta"][0], axis=0) * 20, np.diff(arrays["wrap_u"][0])[:, None], atol=1e-4)


def _shifted(drawing):
    return Drawing(width_mm=44, height_mm=44, rings=Ragged.of([drawing.rings.points + [0.0, 60.0]]))
