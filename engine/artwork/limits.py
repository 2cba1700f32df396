"""Every bound on artwork in one table, so that no file can take more than a few seconds and a gigabyte on one core."""

from dataclasses import dataclass

__all__ = ["Limits"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a reader takes at most; passing any of them is a `TooBigError`.

    The bounds on bytes, pixels, elements and depth are policy (what a shop's picture needs, with room to spare); the
    others hold the work down to what they let through.
    """

    raster_bytes: int = 25 << 20
    raster_pixels: int = 40_000_000
    raster_side: int = 20_000
    jpeg_scans: int = 100  # a picture in thousands of scans is decoded thousands of times
    trace_pixels: int = 16_000_000  # above, pixels are averaged in squares first: tracing takes 40 bytes a pixel
    vector_bytes: int = 5 << 20
    dxf_bytes: int = 20 << 20
    dxf_entities: int = 500_000  # as written, and again with what inserted blocks bring in
    dxf_layers: int = 10_000
    dxf_areas: int = 50_000  # hatches and solids, likewise: each is laid over the others
    dxf_letters: int = 10_000  # of texts that are set
    dxf_depth: int = 8  # blocks in blocks
    elements: int = 200_000  # as written, and again with what `use` brings in
    depth: int = 64
    css_bytes: int = 512 << 10
    css_tries: int = 2_000_000  # rules times elements
    path_numbers: int = 400_000
    points: int = 1_000_000  # flattened or traced, in one drawing
    crossings: int = 2_000_000  # of an outline with itself, estimated
    paint_work: int = 8_000_000  # points handled by painting, erasing and clipping
    table_bytes: int = 5 << 20
    font_bytes: int = 20 << 20
    font_tables: int = 256  # five times as many as OpenType registers (from memory)
    characters: int = 2_000  # of one text: a page of a book
    glyphs: int = 20_000  # that it is set in: of some scripts several a character
    side_mm: float = 10_000.0  # a sheet of ten metres
