"""The warm-up's jobs: small, but between them they run every compiled loop of the engine."""

import hashlib
import importlib.util
from collections.abc import Iterator, Mapping
from typing import Any

__all__ = ["least_job", "let_the_cache_rest"]

_DRAWING = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="12mm" height="8mm" viewBox="0 0 12 8">'
    b'<rect x="1" y="1" width="5" height="6"/><circle cx="9" cy="4" r="2"/></svg>'
)


def least_job() -> Iterator[tuple[dict[str, Any], Mapping[str, bytes], Mapping[str, str]]]:
    """Job documents, their assets by id, and the kinds of these."""
    grid = "x_mm,angle_deg,radius_mm\n" + "".join(
        f"{x},{angle},{20 + 0.3 * (angle // 90 % 2) - (x - 20) ** 2 / 200}\n"
        for x in range(0, 41, 4)
        for angle in range(0, 360, 30)
    )
    drawing, table = (hashlib.sha256(data).hexdigest() for data in (_DRAWING, grid.encode()))
    assets, kinds = {drawing: _DRAWING, table: grid.encode()}, {drawing: "vector", table: "table"}
    cylinder = {"shape": "cylinder", "diameter_mm": 40, "length_mm": 40}
    for blank, form, direction in (
        (cylinder, "cone", "uphill"),
        ({"shape": "grid", "asset": table}, "ball", "any"),
    ):
        document = {
            "schema": "roundwright.job/1",
            "name": "warm-up",
            "blank": blank,
            "tools": [{"id": "warm-up", "form": form}],
            "artwork": [
                {
                    "asset": drawing,
                    "placement": {"x_mm": 20},
                    "marking": {"style": "hatch", "pitch_mm": 0.6, "outline": True},
                    "depth_mm": 0.1,
                    "direction": direction,
                }
            ],
        }
        yield document, assets, kinds


def let_the_cache_rest() -> None:
    """Let a compiled loop that cannot be kept on disk go unkept: a shut-in worker may not write there."""
    if importlib.util.find_spec("numba") is None:
        return
    caching = importlib.import_module("numba.core.caching")
    keep = caching.FunctionCache.save_overload

    def keep_where_allowed(self: Any, signature: Any, compiled: Any) -> None:
        try:
            keep(self, signature, compiled)
        except OSError:
            return

    caching.FunctionCache.save_overload = keep_where_allowed
