"""What an entry of the materials' library says: the shop's own figures for a material."""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from server.house import House
from server.problems import Fault, Problem, key_step, shown

__all__ = ["Material", "check_material"]

Rate = Annotated[float, Field(gt=0, le=1e6)]


class Material(BaseModel):
    """Figures that worked, for a job to start from; every one may be left out."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)

    name: Annotated[str, Field(min_length=1, max_length=80)]
    feed_mm_min: Rate | None = None
    plunge_mm_min: Rate | None = None
    rpm: Rate | None = None
    step_mm: Annotated[float, Field(gt=0, le=50)] | None = None
    depth_mm: Annotated[float, Field(gt=0, le=50)] | None = None
    note: Annotated[str, Field(max_length=2000)] = ""


def check_material(house: House, value: Mapping[str, Any]) -> None:
    """A 422 problem where the value is no material."""
    try:
        Material.model_validate(value)
    except ValidationError as exc:
        faults = [
            Fault("".join(key_step(str(step)) for step in e["loc"]), shown(e["input"]), e["msg"])
            for e in exc.errors(include_url=False)
        ]
        raise Problem(422, "invalid", errors=faults) from None
