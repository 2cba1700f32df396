"""One visit of a phone: which photographs are wanted, which have come, and who waits to hear of it.

Everything here happens on one event loop, so each method is one step that nothing can interrupt.
"""

import hmac
import secrets
from collections.abc import Sequence
from typing import Any

from server.changes import Changes
from server.store import Asset

__all__ = ["Session"]


class Session:
    """The photographs at `angles_deg`, numbered from 1. `token` lets a phone in until the session is closed."""

    def __init__(self, angles_deg: Sequence[float]) -> None:
        self.angles_deg = tuple(float(angle) for angle in angles_deg)
        self.token = secrets.token_urlsafe(32)
        self.closed = False
        self.begun = 0
        self.seen = False
        self._held: dict[int, tuple[int, Asset]] = {}
        self.changes = Changes()

    def admits(self, token: str) -> bool:
        """Whether a token is this session's; the time it takes tells nothing."""
        same = hmac.compare_digest(token.encode("utf-8", "replace"), self.token.encode("ascii"))
        return same and not self.closed

    def arrive(self) -> None:
        """Note that the phone has opened its page."""
        if not self.seen:
            self.seen = True
            self.changes.note()

    def begin(self) -> int:
        """The place in line of a photograph that begins to come in."""
        self.begun += 1
        return self.begun

    def keep(self, number: int, turn: int, asset: Asset) -> None:
        """Keep a photograph. Of two of one number that counts which began to come in last."""
        held = self._held.get(number)
        if self.closed or (held is not None and held[0] > turn):
            return
        self._held[number] = (turn, asset)
        self.changes.note()

    def close(self) -> None:
        """Let nobody in any more and wake who waits."""
        if not self.closed:
            self.closed = True
            self.changes.note(over=True)

    def for_phone(self) -> dict[str, Any]:
        """What the phone may know: the angles and which photographs have come. No asset is named."""
        taken = [number in self._held for number in range(1, len(self.angles_deg) + 1)]
        return {"angles_deg": list(self.angles_deg), "taken": taken}

    def for_bench(self) -> dict[str, Any]:
        """What the bench shows: the whole state, after each change."""
        photographs = [
            {"number": number, "angle_deg": angle, "asset": self._held[number][1].document()}
            if number in self._held
            else {"number": number, "angle_deg": angle, "asset": None}
            for number, angle in enumerate(self.angles_deg, 1)
        ]
        return {"open": not self.closed, "seq": self.changes.count, "seen": self.seen, "photographs": photographs}
