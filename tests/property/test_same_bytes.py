"""The same job gives the same bytes in another process, whatever seed its hashes have, in every style."""

import json
import os
import subprocess
import sys

import pytest

from engine.marking import STYLES

PROGRAMS = """
import hashlib, json
from tests.property.test_styles_end_to_end import STYLES
from tests.property.whole_jobs import art, document, planned
told = {}
for style, (marking, depth, tool) in STYLES.items():
    leaf = art("leaf", marking, depth_mm=depth, width_mm=6, x_mm=30, tool=tool, repeat={"times": 3})
    _, plan = planned(document("ovoid", leaf))
    told[style] = {kind: hashlib.sha256(one.text).hexdigest() for kind, one in plan.programs.items()}
print(json.dumps(told))
"""


@pytest.fixture(scope="module")
def two():
    """What each of two processes wrote."""
    running = [
        subprocess.Popen(
            [sys.executable, "-c", PROGRAMS],
            stdout=subprocess.PIPE,
            env=os.environ | {"PYTHONHASHSEED": seed},
        )
        for seed in ("1", "77")
    ]
    return [json.loads(one.communicate()[0]) for one in running]


@pytest.mark.parametrize("style", STYLES)
def test_two_processes_write_the_same_programs(style, two):
    assert set(two[0][style]) == {"engrave", "air", "walk"}
    assert two[0][style] == two[1][style]
