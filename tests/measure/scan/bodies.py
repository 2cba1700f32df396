"""Meshes of known bodies and plain writers of the three formats, for the tests alone."""

import numpy as np

from engine.measure.scan import Axis, Mesh

ALONG_X = Axis(origin=np.zeros(3), direction=np.array([1.0, 0.0, 0.0]))


def revolved(x, radius, count, *, lobes=None, caps=True):
    """A closed body: rings (m,) of `count` points of radius (m,) or (m, count), caps fanned from the axis."""
    theta = np.arange(count) * (2 * np.pi / count)
    radius = np.asarray(radius, float)
    rings = (radius[:, None] if radius.ndim == 1 else radius) * np.ones(count)
    if lobes is not None:
        rings = rings * (1 + lobes(theta))
    points = np.stack([np.repeat(x, count), (rings * np.cos(theta)).ravel(), (rings * np.sin(theta)).ravel()], axis=1)
    i = np.arange(len(x) - 1)[:, None] * count
    j, k = np.arange(count)[None], (np.arange(count)[None] + 1) % count
    faces = [np.stack([i + j, i + k, i + count + k], -1), np.stack([i + j, i + count + k, i + count + j], -1)]
    faces = [f.reshape(-1, 3) for f in faces]
    if caps:
        n, last = len(points), (len(x) - 1) * count
        points = np.concatenate([points, [[x[0], 0, 0], [x[-1], 0, 0]]])
        j, k = j.ravel(), k.ravel()
        faces += [np.stack([0 * j + n, k, j], 1), np.stack([0 * j + n + 1, last + j, last + k], 1)]
    return Mesh(vertices=points, faces=np.concatenate(faces))


def spheroid(long_mm, breadth_mm, stations, count):
    """Semi-axes along x and square to it; rings even in the eccentric angle, poles left as tiny caps."""
    at = np.linspace(0, np.pi, stations + 2)[1:-1]
    x = np.concatenate([[-long_mm], -long_mm * np.cos(at), [long_mm]])
    return revolved(x, np.concatenate([[1e-9], breadth_mm * np.sin(at), [1e-9]]), count)


def egg(x, length=56.0, breadth=43.5, shift=1.9, quarter=36.0):
    """Narushin, Romanov, Griffin (2021), eq. (5)."""
    L, B, w, D = length, breadth, shift, quarter
    f1 = np.sqrt(5.5 * L**2 + 11 * L * w + 4 * w**2)
    f2 = np.sqrt(L**2 + 2 * w * L + 4 * w**2)
    f3, f4 = np.sqrt(3) * B * L, L**2 + 8 * w * x + 4 * w**2
    inner = 2 * (L - 2 * w) * x**2 + (L**2 + 8 * L * w - 4 * w**2) * x + 2 * L * w**2 + L**2 * w + L**3
    braces = 1 - f1 * (f3 - 2 * D * f2) / (f3 * (f1 - 2 * f2)) * (1 - np.sqrt(L * f4 / inner))
    return B / 2 * np.sqrt(np.maximum(L**2 - 4 * x**2, 0) / f4) * braces


def turned_about_x(mesh, angle_rad):
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return Mesh(vertices=mesh.vertices @ np.array([[1, 0, 0], [0, c, s], [0, -s, c]]), faces=mesh.faces)


def volume(mesh):
    """Of a closed mesh, by signed tetrahedra."""
    a, b, c = (mesh.vertices[mesh.faces[:, k]] for k in range(3))
    return float((a * np.cross(b, c)).sum() / 6)


def binary_stl(mesh, heading=b""):
    row = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
    table = np.zeros(len(mesh.faces), row)
    table["corners"] = mesh.vertices[mesh.faces]
    return heading.ljust(80, b" ") + len(table).to_bytes(4, "little") + table.tobytes()


def _words(point, digits):
    return " ".join(f"{value:.{digits}g}" for value in point)


def ascii_stl(mesh, name="float"):
    lines = [f"solid {name}"]
    for corners in mesh.vertices[mesh.faces]:
        lines += ["facet normal 0 0 0", "outer loop", *("vertex " + _words(p, 9) for p in corners)]
        lines += ["endloop", "endfacet"]
    return ("\n".join([*lines, f"endsolid {name}"]) + "\n").encode()


def obj(vertices, polygons, *, corner="{}", first=1):
    lines = ["# a gourd", "mtllib nowhere.mtl", *("v " + _words(p, 17) for p in vertices), "vt 0 0"]
    lines += ["f " + " ".join(corner.format(k + first) for k in polygon) for polygon in polygons]
    return ("\n".join(lines) + "\n").encode()


def ply(vertices, polygons, *, order="ascii", extra=False):
    """`extra`: colours at vertices, a flag before and a list of floats after each face's corners, an edge element."""
    more_v = "property uchar red\n" if extra else ""
    before, after = ("property short flag\n", "property list uchar float texcoord\n") if extra else ("", "")
    edge = "element edge 2\nproperty int a\nproperty int b\n" if extra else ""
    head = f"ply\nformat {order} 1.0\ncomment a gourd\n"
    head += f"element vertex {len(vertices)}\nproperty double x\nproperty double y\nproperty double z\n{more_v}{edge}"
    head += f"element face {len(polygons)}\n{before}property list uchar int vertex_indices\n{after}end_header\n"
    if order == "ascii":
        lines = [_words(p, 17) + (" 7" if extra else "") for p in vertices]
        lines += ["0 1", "1 2"] if extra else []
        for polygon in polygons:
            words = [len(polygon), *polygon]
            lines.append(" ".join(map(str, [3, *words, 2, 0.5, 0.25] if extra else words)))
        return (head + "\n".join(lines) + "\n").encode()
    o = "<" if "little" in order else ">"
    body = b""
    for p in vertices:
        body += np.asarray(p, o + "f8").tobytes() + (b"\7" if extra else b"")
    body += np.array([0, 1, 1, 2], o + "i4").tobytes() if extra else b""
    for polygon in polygons:
        body += np.array(3, o + "i2").tobytes() if extra else b""
        body += bytes([len(polygon)]) + np.asarray(polygon, o + "i4").tobytes()
        body += b"\2" + np.array([0.5, 0.25], o + "f4").tobytes() if extra else b""
    return head.encode() + body
