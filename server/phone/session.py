"""One visit of a phone: which photographs are wanted, which have come, and who waits to hear of it.

Everything here happens on one event loop, so each method is one step that nothing can interrupt.
"""

import asyncio
import hmac
import secrets
from collections.abc import AsyncIterator, Sequence
from typing import Any

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
        self._seq = 0
        self._pulse = asyncio.Event()

    def admits(self, token: str) -> bool:
        """Whether a token is this session's; the time it takes tells nothing."""
        same = hmac.compare_digest(token.encode("utf-8", "replace"), self.token.encode("ascii"))
        return same and not self.closed

    def arrive(self) -> None:
        """Note that the phone has opened its page."""
        if not self.seen:
            self.seen = True
            self._changed()

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
        self._changed()

    def close(self) -> None:
        """Let nobody in any more and wake who waits."""
        if not self.closed:
            self.closed = True
            self._changed()

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
        return {"open": not self.closed, "seq": self._seq, "seen": self.seen, "photographs": photographs}

    async def changes(self, *, heartbeat_s: float) -> AsyncIterator[bool]:
        """True at once and after each change to the end, False when nothing happened for a while. A slow reader skips
        some changes, never the last.
        """
        told = -1
        while True:
            pulse = self._pulse
            if self._seq != told:
                told, ended = self._seq, self.closed
                yield True
                if ended:
                    return
                continue
            try:
                await asyncio.wait_for(pulse.wait(), heartbeat_s)
            except TimeoutError:
                yield False

    def _changed(self) -> None:
        self._seq += 1
        self._pulse, pulse = asyncio.Event(), self._pulse
        pulse.set()
