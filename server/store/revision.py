"""One revision of something that is stored: who it is, which save it was, when, and what it says."""

import hashlib
from dataclasses import dataclass

__all__ = ["Revision"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """revision : from 1. at : when it was saved. text : JSON."""

    id: str
    revision: int
    at: str
    text: str

    @property
    def etag(self) -> str:
        """Strong entity tag: the revision and what it says."""
        return f'"{self.revision}-{hashlib.sha256(self.text.encode()).hexdigest()[:8]}"'
