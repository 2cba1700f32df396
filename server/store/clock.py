"""The one clock of the store."""

from datetime import UTC, datetime

__all__ = ["now"]


def now() -> str:
    """The present moment in UTC to the millisecond, RFC 3339."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
