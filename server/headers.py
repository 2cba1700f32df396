"""The literal header tables: page, static file, everything else (problems and every user-made byte too).

The strictest table is the default, so that a route nobody thought of is safe. `Server` and every cross-origin grant
that an inner layer sets are dropped.
"""

import re
import unicodedata
from urllib.parse import quote

__all__ = ["API", "PAGE", "STATIC", "disposition", "dressed"]

_CSP_PAGE = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; media-src blob:; font-src 'self'; "
    "connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; "
    "object-src 'none'; frame-src 'none'; frame-ancestors 'none'; require-trusted-types-for 'script'; "
    "trusted-types app-worker"
)
_COMMON = {
    "x-content-type-options": "nosniff",
    "cross-origin-resource-policy": "same-origin",
    "referrer-policy": "no-referrer",
    "x-frame-options": "DENY",
}
PAGE = _COMMON | {
    "content-security-policy": _CSP_PAGE,
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=(), serial=(), payment=()",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}
STATIC = _COMMON | {"content-security-policy": _CSP_PAGE, "cache-control": "no-cache"}
API = _COMMON | {
    "content-security-policy": "default-src 'none'; frame-ancestors 'none'; sandbox",
    "cache-control": "no-store",
    "vary": "Cookie, Authorization, Accept",
}
_DROPPED = (b"server", b"access-control-")


def dressed(raw: list[tuple[bytes, bytes]], path: str, status: int) -> list[tuple[bytes, bytes]]:
    """A response's headers with its table laid over them."""
    kind = next((v.decode("latin-1") for k, v in raw if k.lower() == b"content-type"), "")
    if path.startswith("/static/") and status in (200, 304):
        ours = STATIC
    elif kind.startswith("text/html"):
        ours = PAGE
    else:
        ours = API
    kept = [(k, v) for k, v in raw if k.lower().decode("latin-1") not in ours and not k.lower().startswith(_DROPPED)]
    return kept + [(k.encode("ascii"), v.encode("ascii")) for k, v in ours.items()]


_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)")


def disposition(name: str) -> str:
    """`Content-Disposition` of user-made bytes: always an attachment, with an ASCII name and a UTF-8 name.

    A name can neither split the header nor name a device. Source: RFC 6266 appendix D, RFC 8187 section 3.2.
    """
    clean = "".join("_" if c in '/\\"<>|?*:;%' or unicodedata.category(c)[0] == "C" else c for c in name)
    clean = clean.strip(" .")[:120] or "file"
    if _RESERVED.match(clean):
        clean = "_" + clean
    plain = unicodedata.normalize("NFKD", clean).encode("ascii", "replace").decode("ascii").replace("?", "_")
    return f"attachment; filename=\"{plain}\"; filename*=UTF-8''{quote(clean, safe='')}"
