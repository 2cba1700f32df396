"""DXF files written by hand for the tests, in text and in both binary forms."""

import struct
from collections.abc import Iterable

Tags = list[tuple[int, object]]
BINARY = b"\x41\x75\x74\x6f\x43\x41\x44" + b" Binary DXF\r\n\x1a\x00"


def entity(kind: str, *tags: tuple[int, object], layer: str = "0") -> Tags:
    return [(0, kind), (8, layer), *tags]


def line(x0: float, y0: float, x1: float, y1: float, layer: str = "0") -> Tags:
    return entity("LINE", (10, x0), (20, y0), (11, x1), (21, y1), layer=layer)


def circle(x: float, y: float, radius: float, *more: tuple[int, object], layer: str = "0") -> Tags:
    return entity("CIRCLE", (10, x), (20, y), (40, radius), *more, layer=layer)


def polyline(points: Iterable[tuple[float, float, float]], closed: bool = False, layer: str = "0") -> Tags:
    corners = [(code, value) for p in points for code, value in zip((10, 20, 42), p, strict=True)]
    return entity("LWPOLYLINE", (70, int(closed)), *corners, layer=layer)


def insert(name: str, x: float, y: float, *more: tuple[int, object], layer: str = "0") -> Tags:
    return entity("INSERT", (2, name), (10, x), (20, y), *more, layer=layer)


def block(name: str, *entities: Tags, base: tuple[float, float] = (0.0, 0.0)) -> Tags:
    inside = [tag for each in entities for tag in each]
    return [(0, "BLOCK"), (8, "0"), (2, name), (10, base[0]), (20, base[1]), *inside, (0, "ENDBLK")]


def layer(name: str, flags: int = 0, colour: int = 7) -> Tags:
    return [(0, "LAYER"), (2, name), (70, flags), (62, colour)]


def tags(*entities: Tags, blocks: Iterable[Tags] = (), layers: Iterable[Tags] = (), unit: int | None = 4) -> Tags:
    def section(name: str, *parts: Tags) -> Tags:
        return [(0, "SECTION"), (2, name), *(tag for part in parts for tag in part), (0, "ENDSEC")]

    header = section("HEADER", [] if unit is None else [(9, "$INSUNITS"), (70, unit)])
    tables = section("TABLES", [(0, "TABLE"), (2, "LAYER")], *layers, [(0, "ENDTAB")])
    return [*header, *tables, *section("BLOCKS", *blocks), *section("ENTITIES", *entities), (0, "EOF")]


def text(all_tags: Tags, end: str = "\r\n") -> bytes:
    return "".join(f"{code:3d}{end}{value!s}{end}" for code, value in all_tags).encode()


def dxf(*entities: Tags, blocks: Iterable[Tags] = (), layers: Iterable[Tags] = (), unit: int | None = 4) -> bytes:
    return text(tags(*entities, blocks=blocks, layers=layers, unit=unit))


def binary(all_tags: Tags, wide: bool = True) -> bytes:
    """The binary form: codes of two bytes, or of one as before 1994."""
    out = bytearray(BINARY)
    for code, value in all_tags:
        out += struct.pack("<H", code) if wide else bytes([code]) if code < 255 else b"\xff" + struct.pack("<H", code)
        if isinstance(value, str):
            out += value.encode() + b"\x00"
        elif 10 <= code <= 59 or 210 <= code <= 239:
            out += struct.pack("<d", float(str(value)))
        else:
            out += struct.pack("<i" if 90 <= code <= 99 else "<h", int(str(value)))
    return bytes(out)
