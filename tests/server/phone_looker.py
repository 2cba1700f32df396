"""A stand-in for the looker of photographs: it tells JPEG and PNG by their beginnings, and can be made slow."""

import time


def look(request, assets, *, tell):
    (data,) = assets.values()
    if data.endswith(b"SLOW"):
        time.sleep(1.0)
    if data.startswith(b"<svg"):  # good artwork, and no photograph
        return [{"kind": "vector", "media_type": "image/svg+xml", "width": 1.0, "height": 1.0, "has_size": True}], {}
    if not data.startswith((b"\xff\xd8\xff", b"\x89PNG")) or data.endswith(b"CUT"):
        raise type("NotArtworkError", (Exception,), {"message": "not a picture", "where": "", "hint": "send one"})
    kind = "image/png" if data.startswith(b"\x89PNG") else "image/jpeg"
    return [{"kind": "raster", "media_type": kind, "width": 12.0, "height": 8.0, "has_size": False}], {}
