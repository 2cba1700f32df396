"""The sample jobs as the engine takes them: asset paths replaced by ids, bytes beside them."""

import hashlib
import json
from pathlib import Path

import engine

FOLDER = Path(__file__).resolve().parents[2] / "sample_jobs"
NAMES = ("bottle", "cup", "egg", "float", "gourd")


def load(name):
    """(Job, assets) of a sample job."""
    folder = FOLDER / name
    document = json.loads((folder / "job.json").read_text("utf-8"))
    assets = {}
    for place in (document["blank"], *document["artwork"]):
        if "asset" in place:
            data = (folder / place["asset"]).read_bytes()
            place["asset"] = hashlib.sha256(data).hexdigest()
            assets[place["asset"]] = data
    known = engine.Known(assets={name: engine.describe(data).kind for name, data in assets.items()})
    return engine.read_job(document, known=known), assets
