"""Photographs by way of their routes, and as a job's blank: pictures of the independent ray caster as JPEG files."""

from base64 import b64decode
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

import engine
from engine.blank import sigma_at
from engine.kernel.errors import BlankError, NotArtworkError
from tests.measure.photographs import pieces, renderer
from tests.measuring.ask import ask, problems, skin_of

SETTING = renderer.Setting(**renderer.SMALL)
COUNT = 12


def jpeg(picture):
    data = BytesIO()
    Image.fromarray(picture).save(data, "JPEG", quality=92)
    return data.getvalue()


@pytest.fixture(scope="module")
def shots():
    """Twelve photographs of the gourd, and how they were taken."""
    angles = [360.0 * k / COUNT for k in range(COUNT)]
    files = {f"p{k}": jpeg(renderer.photograph(pieces.GOURD, a, SETTING, seed=k)[0]) for k, a in enumerate(angles)}
    ends = renderer.axis_ends(pieces.GOURD, SETTING)
    asked = {
        "photos": [{"asset": name, "angle_deg": angle} for name, angle in zip(files, angles, strict=True)],
        "axis": {"from_px": ends[0].tolist(), "to_px": ends[1].tolist()},
        "length_mm": float(pieces.LENGTH_MM[pieces.GOURD]),
        "camera_mm": SETTING.camera_mm,
    }
    return files, asked


def missed(skin, turn=0.0):
    x = np.linspace(8, pieces.LENGTH_MM[pieces.GOURD] - 8, 60)
    theta = np.arange(90) * np.pi / 45
    true = pieces.truth(pieces.GOURD, x[:, None], theta[None, :])
    return skin.radius(x[:, None], theta + turn) - true, sigma_at(skin, x[:, None], theta + turn)


def test_a_turned_gourd_comes_out_of_twelve_photographs(shots):
    files, asked = shots
    answer = ask("silhouettes", asked, files=files)
    error, sigma = missed(skin_of(answer))
    assert np.sqrt((error**2).mean()) < 0.05
    assert np.sqrt(((error / sigma) ** 2).mean()) < 2.0
    assert sigma.max() < 0.1  # what the marked points may be off by: no photograph shows that they are exact
    names = [name for name, _ in answer.value["how"]]
    assert "smoothing" in " ".join(names) and answer.value["readings"]["x_mm"]
    # The camera that looks from a quarter turn aside sees the same piece turned by as much.
    turned = ask("silhouettes", {**asked, "camera_deg": 90.0}, files=files)
    assert np.sqrt((missed(skin_of(turned), turn=np.pi / 2)[0] ** 2).mean()) < 0.05


def test_a_job_can_be_planned_on_its_photographs(shots):
    files, asked = shots
    document = {
        "schema": "roundwright.job/1",
        "name": "Gourd by photographs",
        "blank": {"shape": "silhouettes", **asked, "keep_out": [{"from_mm": 0, "to_mm": 6}]},
    }
    job = engine.read_job(document, known=engine.Known(assets=dict.fromkeys(files, "raster")))
    error, _ = missed(job.blank.skin(files))
    assert np.sqrt((error**2).mean()) < 0.05
    with pytest.raises(engine.JobError) as told:
        engine.read_job(document, known=engine.Known(assets=dict.fromkeys(list(files)[1:], "raster")))
    assert told.value.problems[0].pointer == "/blank/photos/0/asset"


def test_the_edge_of_one_photograph_for_the_page(shots):
    files, asked = shots
    value = ask("outline", {"photo": {"asset": "p3"}, "axis": asked["axis"]}, files=files).value
    assert value["size_px"] == [SETTING.width, SETTING.height] and len(value["ok"]) == len(value["points_px"])
    field = value["distance"]
    levels = np.frombuffer(b64decode(field["data"]), np.uint8).reshape(field["height"], field["width"])
    inside = levels * field["per_level"] > value["threshold"]
    points = np.array(value["points_px"])
    area = 0.5 * abs(np.sum(points[:, 0] * np.roll(points[:, 1], -1) - np.roll(points[:, 0], -1) * points[:, 1]))
    assert inside.sum() * field["scale_px"] ** 2 == pytest.approx(area, rel=0.03)
    cut = [[0, 0], [SETTING.width / 2, 0], [SETTING.width / 2, SETTING.height], [0, SETTING.height]]
    half = ask("outline", {"photo": {"asset": "p3", "exclude": [cut]}}, files=files).value
    assert np.array(half["points_px"])[:, 0].min() > SETTING.width / 2 - 20


@pytest.mark.parametrize(
    ("change", "place"),
    [
        ({"length_mm": 0}, "/length_mm"),
        ({"axis": {"from_px": [1, 2]}}, "/axis/to_px"),
        ({"photos": []}, "/photos"),
        ({"photos": [{"asset": "p0", "angle_deg": "0"}]}, "/photos/0/angle_deg"),
        ({"photos": [{"asset": "p0", "angle_deg": 0, "include": [[[1, 2]]]}]}, "/photos/0/include/0"),
        ({"camera_mm": -1}, "/camera_mm"),
    ],
)
def test_what_is_wrong_is_told_by_its_place(shots, change, place):
    files, asked = shots
    assert problems("silhouettes", {**asked, **change}, assets=dict.fromkeys(files, "raster")) == {place}


def test_photographs_of_which_no_skin_can_be_made_are_refused_with_what_to_do(shots):
    files, asked = shots
    white = jpeg(np.full((SETTING.height, SETTING.width, 3), 250, np.uint8))
    other = jpeg(np.full((SETTING.height // 2, SETTING.width, 3), 250, np.uint8))
    short = {**asked, "photos": asked["photos"][:2]}
    for bad in ({"p0": white, "p1": white}, {"p0": files["p0"], "p1": other}):
        with pytest.raises(BlankError) as told:
            ask("silhouettes", short, files=bad)
        assert told.value.hint
    for ends in ({"from_px": [9, 9], "to_px": [9, 9]}, {"from_px": [9, 9], "to_px": [12, 9]}):
        with pytest.raises(BlankError) as told:
            ask("silhouettes", {**short, "axis": ends}, files=files)
        assert told.value.where.startswith("/axis")
    with pytest.raises(NotArtworkError) as cut:
        ask("outline", {"photo": {"asset": "p0"}}, files={"p0": files["p0"][:2000]}, kinds={"p0": "raster"})
    assert cut.value.where == "/photo/asset"
