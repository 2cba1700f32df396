"""Notes collected while a file is read: the same thing said twice is counted, not repeated."""

from engine.artwork.drawing import Note

__all__ = ["Notes"]


class Notes:
    """A list of notes that lives as long as one reading."""

    def __init__(self) -> None:
        self._seen: dict[tuple[str, str], tuple[str, int]] = {}

    def add(self, code: str, message: str, where: str = "") -> None:
        """Note something; `where` of the first of its like is kept."""
        first, times = self._seen.get((code, message), (where, 0))
        self._seen[(code, message)] = (first, times + 1)

    def all(self) -> tuple[Note, ...]:
        """Every note, in the order of first mention."""
        return tuple(
            Note(code=code, message=message, where=where, times=times)
            for (code, message), (where, times) in self._seen.items()
        )
