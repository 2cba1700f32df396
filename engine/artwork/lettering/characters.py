"""What was typed to lines that can be set: what is no letter is refused or told, by name; nothing is dropped."""

import unicodedata
from collections.abc import Iterable

from engine.artwork.limits import Limits
from engine.artwork.notes import Notes
from engine.kernel.errors import ArtworkError, EmptyError, TooBigError

__all__ = ["lines_of", "named", "refuse_undrawn", "refuse_unknown"]

MOST_NAMED = 8  # characters that a message names in full
MOST_TOLD = 40  # others, of which it tells the code points; further ones are counted
WHERE = "text/string"
# U+202A-202E and U+2066-2069 set directions explicitly; marks that only lean (U+200E, U+200F, U+061C) are read.
EMBEDDINGS = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))
SEPARATORS = "\u2028\u2029"


def lines_of(string: str, notes: Notes, limits: Limits) -> list[str]:
    """The lines of a text, tabs as spaces, in Unicode's composed form (NFC).

    Raises
    ------
    ArtworkError for control characters, explicit embeddings and half surrogates; EmptyError; TooBigError.
    """
    if len(string) > limits.characters:
        raise TooBigError(f"the text has {len(string):,} characters of at most {limits.characters:,}", where=WHERE)
    for separator in ("\r\n", *SEPARATORS):
        string = string.replace(separator, "\n")
    if "\t" in string:
        notes.add("tab", "a tab is set as a space", WHERE)
        string = string.replace("\t", " ")
    wrong = [c for c in string if c != "\n" and (unicodedata.category(c) in ("Cc", "Cs") or c in EMBEDDINGS)]
    if wrong:
        raise ArtworkError(
            f"the text holds what is no letter: {named(wrong)}", where=WHERE, hint="take it out; lines part by newlines"
        )
    if not string.strip():
        raise EmptyError("the text has no letters", where=WHERE, hint="type some words")
    return unicodedata.normalize("NFC", string).split("\n")


def named(characters: Iterable[str]) -> str:
    """Each different character once, by sight where it can be seen, code point and name; of many the code points."""
    each = list(dict.fromkeys(characters))
    told = ", ".join(_name(c) for c in each[:MOST_NAMED])
    others = each[MOST_NAMED:]
    if not others:
        return told
    codes = " ".join(f"U+{ord(c):04X}" for c in others[:MOST_TOLD])
    return f"{told} and {len(others)} more: {codes}{' ...' if len(others) > MOST_TOLD else ''}"


def _name(c: str) -> str:
    seen = f"{c!r} " if c.isprintable() and not c.isspace() and not unicodedata.combining(c) else ""
    name = unicodedata.name(c, "")
    return f"{seen}U+{ord(c):04X}" + (f" ({name.lower()})" if name else "")


def refuse_unknown(characters: Iterable[str], face: str, hint: str) -> None:
    """ArtworkError that names each character which a face does not have."""
    unknown = list(characters)
    if unknown:
        raise ArtworkError(f"the face {face} has no {named(unknown)}", where=WHERE, hint=hint)


def refuse_undrawn(characters: Iterable[str], face: str) -> None:
    """ArtworkError that names each character which a face has and draws nothing for."""
    undrawn = list(characters)
    if undrawn:
        raise ArtworkError(
            f"the face {face} draws nothing for {named(undrawn)}: the font is broken there",
            where=WHERE,
            hint="take the font from its source again, or use another; or use other letters",
        )
