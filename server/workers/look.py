"""What a looking worker does with the engine: it tells what a file is. It needs no warm-up: always at hand."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import engine

__all__ = ["task"]


def task(request: Mapping[str, Any], assets: Mapping[str, bytes], *, tell: object) -> tuple[Any, dict[str, Any]]:
    """What each file is; the engine's own error where it is nothing that can be used."""
    return [asdict(engine.describe(data)) for data in assets.values()], {}
