"""Host and Origin read as authorities: (host, port), or a refusal.

Refuses (ValueError) userinfo, spaces, paths, odd characters and bad ports. Normal form: lower case, one trailing dot
dropped, IPv6 compressed. Source: RFC 3986 section 3.2, RFC 9110 section 7.2.
"""

import ipaddress
import re

__all__ = ["authority", "origin", "own_names"]

_DEFAULT_PORT = {"http": 80, "https": 443}
# Anchored with \Z: `$` would let a newline through.
_AUTHORITY = re.compile(rb"(?:\[([0-9A-Fa-f:.]{2,45})\]|([A-Za-z0-9](?:[A-Za-z0-9.-]{0,252})))(?::([0-9]{1,5}))?\Z")


def authority(raw: bytes, *, scheme: str = "http") -> tuple[str, int]:
    """`host[:port]` as (host, port); the scheme gives the port left out."""
    match = _AUTHORITY.match(raw)
    if match is None:
        raise ValueError("not an authority")
    v6, name, port = match.groups()
    number = int(port) if port else _DEFAULT_PORT[scheme]
    if not 0 < number < 65536:
        raise ValueError("not a port")
    if v6 is not None:
        return f"[{ipaddress.IPv6Address(v6.decode('ascii')).compressed}]", number
    host = name.decode("ascii").lower()
    host = host[:-1] if host.endswith(".") else host
    if not host or ".." in host or host.endswith("."):
        raise ValueError("not a host name")
    return host, number


def origin(raw: bytes) -> tuple[str, str, int]:
    """An Origin header as (scheme, host, port); `null` and lists are refused."""
    scheme, mark, rest = raw.partition(b"://")
    if not mark or scheme not in (b"http", b"https"):
        raise ValueError("not an origin")
    return (scheme.decode("ascii"), *authority(rest, scheme=scheme.decode("ascii")))


def own_names(port: int, *more: str) -> frozenset[tuple[str, int]]:
    """The names we answer to: the loopback ones and those given, all with our port."""
    names = ("127.0.0.1", "[::1]", "localhost", *more)
    return frozenset(authority(f"{name}:{port}".encode("ascii")) for name in names)
