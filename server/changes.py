"""What changes and is waited for: a count of changes, and those who follow it.

Everything here happens on one event loop, so each method but `follow` is one step that nothing can interrupt.
"""

import asyncio
from collections.abc import AsyncIterator

__all__ = ["Changes"]


class Changes:
    """`count` changes so far; `over` after the last."""

    def __init__(self) -> None:
        self.count = 0
        self.over = False
        self._pulse = asyncio.Event()

    def note(self, *, over: bool = False) -> None:
        """Count a change, the last one where it is `over`, and wake who waits for one."""
        self.count, self.over = self.count + 1, over
        self._pulse, pulse = asyncio.Event(), self._pulse
        pulse.set()

    async def follow(self, *, heartbeat_s: float) -> AsyncIterator[bool]:
        """True at once and after each change to the last, False when nothing happened for a while. A slow reader skips
        some changes, never the last.
        """
        told = -1
        while True:
            pulse = self._pulse
            if self.count != told:
                told, over = self.count, self.over
                yield True
                if over:
                    return
                continue
            try:
                await asyncio.wait_for(pulse.wait(), heartbeat_s)
            except TimeoutError:
                yield False

    async def end(self) -> None:
        """Wait for the last change."""
        while not self.over:
            await self._pulse.wait()
