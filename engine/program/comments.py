"""Comment lines: any text made safe to stand between brackets in a program.

Source: NISTIR 6556 3.3.4 (comments close on their line and do not nest), 3.3.5 (MSG is shown to the operator).
"""

import unicodedata

__all__ = ["COMMENT_WIDTH", "comment"]

COMMENT_WIDTH = 100  # shop-floor displays cut long lines; far inside the standard's 256
# Brackets end or nest a comment (3.3.4); ; % ! ~ ? $ mean something outside the standard on a serial line.
_PLAIN = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789 .,:+-*/=<>_'#@&")


def comment(text: str, width: int = COMMENT_WIDTH) -> list[str]:
    """Comment lines that carry `text`: plain ASCII, no brackets, no line breaks, each at most `width` characters.

    A line never begins with MSG (shown to the operator and, on some machines, waited for) nor with `stroke`.
    """
    ascii_text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode() or ("-" if text.strip() else "")
    ascii_text = ascii_text.replace("%", " percent ")
    clean = " ".join("".join(c if c in _PLAIN else " " for c in ascii_text).split())
    room = min(width, COMMENT_WIDTH) - 4
    lines, rest = [], clean
    while rest:
        cut = len(rest) if len(rest) <= room else (rest.rfind(" ", 0, room + 1) + 1 or room)
        lines.append(rest[:cut].strip())
        rest = rest[cut:]
    marked = [
        line if k == 0 and not line.lower().replace(" ", "").startswith(("stroke", "msg")) else f". {line}"
        for k, line in enumerate(lines)
    ]
    return [f"({line})" for line in marked]
