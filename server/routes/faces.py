"""The faces that lettering can be set in without a font of one's own."""

from typing import Any

from fastapi import APIRouter

import engine

__all__ = ["router"]

router = APIRouter(prefix="/faces", tags=["lettering"])


@router.get("")
def get_faces() -> list[dict[str, Any]]:
    """Each face by the name that a job gives it; of a single-stroke one the lines themselves are cut."""
    return [{"name": name, "strokes": name in engine.STROKE_FACES} for name in engine.FACES]
