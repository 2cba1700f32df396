"""What a way of measuring is: the document it takes, and what it makes of it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from engine.job import Asking, Known
from engine.measuring.answer import Answer

__all__ = ["Around", "Way"]


_Asked = TypeVar("_Asked", bound=Asking)


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What a document may name: files by id, and what the shop knows."""

    assets: Mapping[str, bytes]
    known: Known


@dataclass(frozen=True, slots=True, kw_only=True)
class Way(Generic[_Asked]):
    """takes : the document's class. makes : the answer; raises EngineError where there is none. about : one line.
    measured : pointer of the field that holds what was measured, for what is wrong with it as a whole.
    """

    takes: type[_Asked]
    makes: Callable[[_Asked, Around], Answer]
    about: str
    measured: str
