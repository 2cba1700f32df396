"""Every figure of the phone's door in one table, each with its reason. Times in seconds."""

from dataclasses import dataclass

__all__ = ["PhoneLimits"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhoneLimits:
    """What the door lets in, and for how long it stands open."""

    photographs: int = 72  # every 5 degrees of a turn
    sent: int = 216  # three takes of each
    at_once: int = 2  # uploads under way: each is held in memory
    idle_s: float = 1800.0  # without a word from the phone
    body_s: float = 180.0  # 12 megapixels, some 6 MB, over a weak line
    target_bytes: int = 512  # path and query
    connections: int = 32  # a phone's browser opens six
    strangers_burst: int = 60  # requests without the token, before they are told to wait
    strangers_per_s: float = 4.0
    phone_burst: int = 60  # requests with the token
    phone_per_s: float = 8.0
