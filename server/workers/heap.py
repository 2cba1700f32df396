"""What a task frees is kept for its next array, and given back when the task has ended (GNU C library only).

A plan asks for thousands of arrays of a megabyte and more, one soon after another. The C library maps each anew and
unmaps it when it is freed, so the system zeroes every page again: a twentieth of a large plan's time. From one heap
that keeps what is freed the same plan takes that much less time, and no more memory at its highest. The numbers are
those of `malloc.h`; GNU C Library manual, "Malloc Tunable Parameters".
"""

import ctypes

__all__ = ["give_back", "keep"]

TRIM_THRESHOLD, MMAP_THRESHOLD, ARENA_MAX = -1, -3, -8
MAPPED_ALONE = 32 << 20  # bytes; larger arrays are few, and best given back at once
NEVER = (1 << 31) - 1


def _library() -> ctypes.CDLL | None:
    """The process's C library where it is GNU's, else None."""
    try:
        library = ctypes.CDLL(None)
    except (OSError, TypeError):  # TypeError: Windows
        return None
    return library if hasattr(library, "gnu_get_libc_version") else None


def keep() -> bool:
    """Keep freed memory from now on; call once, before the first large array. False where nothing was changed."""
    library = _library()
    if library is None:
        return False
    asked = ((ARENA_MAX, 1), (MMAP_THRESHOLD, MAPPED_ALONE), (TRIM_THRESHOLD, NEVER))
    taken = [library.mallopt(name, value) for name, value in asked]
    return all(taken)


def give_back() -> None:
    """Return to the system what is free now."""
    library = _library()
    if library is not None:
        library.malloc_trim(ctypes.c_size_t(0))
