"""How often someone may ask: so many at once, then so many a second."""

import math

__all__ = ["Pace"]


class Pace:
    """A store of `burst` requests that fills up again at `per_s` a second. It reads no clock: the caller tells it."""

    def __init__(self, *, burst: int, per_s: float) -> None:
        self._most, self._per_s = float(burst), per_s
        self._left, self._at_s = float(burst), -math.inf

    def wait_s(self, now_s: float) -> int:
        """Nought where the request may come, and it is counted; else whole seconds until the next may."""
        self._left = min(self._most, self._left + max(0.0, now_s - self._at_s) * self._per_s)
        self._at_s = now_s
        if self._left >= 1.0:
            self._left -= 1.0
            return 0
        return max(1, math.ceil((1.0 - self._left) / self._per_s))
