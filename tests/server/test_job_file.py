"""Job files: relative paths become ids, and none leads out of the job's folder."""

import json

import pytest

from server.job_file import JobFileError, read_job_file
from server.settings import Limits
from server.store.assets import asset_id
from tests.server.conftest import SVG, job


def written(folder, document):
    folder.mkdir(exist_ok=True)
    (folder / "job.json").write_text(json.dumps(document))
    return folder / "job.json"


def art(asset):
    return {"asset": asset, "placement": {"x_mm": 45}, "depth_mm": 0.2}


def test_paths_become_ids(tmp_path):
    path = written(tmp_path / "a", job(artwork=[art("art/leaf.svg"), art("0" * 64)]))
    (tmp_path / "a" / "art").mkdir()
    (tmp_path / "a" / "art" / "leaf.svg").write_bytes(SVG)
    document, assets = read_job_file(path, Limits())
    assert [item["asset"] for item in document["artwork"]] == [asset_id(SVG), "0" * 64]
    assert assets == {asset_id(SVG): SVG}


def test_no_path_leads_outside(tmp_path):
    (tmp_path / "secret").write_bytes(SVG)
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "link").symlink_to(tmp_path / "secret")
    for name in ("../secret", str(tmp_path / "secret"), "link"):
        with pytest.raises(JobFileError, match="beside"):
            read_job_file(written(tmp_path / "a", job(artwork=[art(name)])), Limits())


def test_what_cannot_be_read_is_told(tmp_path):
    with pytest.raises(JobFileError, match="No such file"):
        read_job_file(tmp_path / "none.json", Limits())
    (tmp_path / "bad.json").write_text('{"a": NaN}')
    with pytest.raises(JobFileError, match="/a: NaN"):
        read_job_file(tmp_path / "bad.json", Limits())
    with pytest.raises(JobFileError, match="File name too long"):
        read_job_file(written(tmp_path, job(artwork=[art("\u00e4" * 200)])), Limits())
    (tmp_path / "list.json").write_text("[1]")
    assert read_job_file(tmp_path / "list.json", Limits()) == ([1], {})


def test_a_font_beside_the_job_is_an_asset_and_a_face_stays_a_name(tmp_path):
    words = {"placement": {"x_mm": 45}, "depth_mm": 0.2}
    fonts = [{"string": "Ada", "font": name, "size_mm": 5} for name in ("own.ttf", "sans")]
    path = written(tmp_path / "a", job(artwork=[{**words, "text": text} for text in fonts]))
    (tmp_path / "a" / "own.ttf").write_bytes(b"a font")
    document, assets = read_job_file(path, Limits())
    assert [item["text"]["font"] for item in document["artwork"]] == [asset_id(b"a font"), "sans"]
    assert assets == {asset_id(b"a font"): b"a font"}
