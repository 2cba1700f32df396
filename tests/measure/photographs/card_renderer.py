"""Photographs of the printed card: its SVG text is read back, laid on a plane, seen through a lens as it is, and
developed like any other photograph. Shares no code with what reads the card."""

import math
from xml.etree import ElementTree as ET

import numpy as np
from scipy import ndimage

from engine.kernel.compiled import compiled
from tests.measure.photographs.renderer import developed


def printed(svg_text):
    """Circles (n, 3) x, y, r mm, and the sheet's (width, height) mm."""
    root = ET.fromstring(svg_text)
    box = [float(v) for v in root.get("viewBox").split()]
    circles = [[float(c.get(k)) for k in ("cx", "cy", "r")] for c in root.iter("{http://www.w3.org/2000/svg}circle")]
    return np.array(circles), (box[2], box[3])


@compiled
def _ink(circles, map_, lens, boxes, w, h):
    """Share of ink (h, w); map_ takes homogeneous picture places about the middle to the sheet."""
    ink = np.zeros((h, w))
    for n in range(len(circles)):
        for y in range(max(boxes[n, 1], 0), min(boxes[n, 3], h)):
            for x in range(max(boxes[n, 0], 0), min(boxes[n, 2], w)):
                hits = 0
                for j in range(16):
                    u, v = x + (j % 4 + 0.5) / 4 - w / 2, y + (j // 4 + 0.5) / 4 - h / 2
                    seen = math.sqrt(u * u + v * v) / lens[1]
                    rho = seen
                    for _ in range(8):
                        rho -= (rho * (1 + lens[0] * rho * rho) - seen) / (1 + 3 * lens[0] * rho * rho)
                    grow = rho / max(seen, 1e-9)
                    u, v = u * grow, v * grow
                    d = map_[2, 0] * u + map_[2, 1] * v + map_[2, 2]
                    px = (map_[0, 0] * u + map_[0, 1] * v + map_[0, 2]) / d - circles[n, 0]
                    py = (map_[1, 0] * u + map_[1, 1] * v + map_[1, 2]) / d - circles[n, 1]
                    hits += px * px + py * py < circles[n, 2] ** 2
                ink[y, x] = max(ink[y, x], hits / 16)
    return ink


def seen_from(sheet, setting, *, lean_deg=(0.0, 0.0), turn_deg=0.0, far_mm=250.0, aside_mm=(0.0, 0.0)):
    """(3, 3) plane projective map from the sheet (mm) to picture places about the middle, perfect lens.

    lean_deg: about the picture's upright and level; turn_deg: about the line of sight."""
    a, b, c = math.radians(lean_deg[0]), math.radians(lean_deg[1]), math.radians(turn_deg)
    about_y = np.array([[math.cos(a), 0, math.sin(a)], [0, 1, 0], [-math.sin(a), 0, math.cos(a)]])
    about_x = np.array([[1, 0, 0], [0, math.cos(b), -math.sin(b)], [0, math.sin(b), math.cos(b)]])
    about_z = np.array([[math.cos(c), -math.sin(c), 0], [math.sin(c), math.cos(c), 0], [0, 0, 1]])
    turned = about_y @ about_x @ about_z
    to_middle = np.array([[1, 0, -sheet[0] / 2 - aside_mm[0]], [0, 1, -sheet[1] / 2 - aside_mm[1]], [0, 0, 1]])
    pose = np.stack([turned[:, 0], turned[:, 1], [0, 0, far_mm]], axis=1)
    f = setting.px_per_mm * setting.camera_mm
    return np.diag([f, f, 1.0]) @ pose @ to_middle


def photograph(svg_text, setting, seed=0, **pose):
    """(h, w, 3) uint8 of the card with the setting's lens, noise, blur and sharpening; and the perfect lens' map."""
    circles, sheet = printed(svg_text)
    w, h = setting.width, setting.height
    H = seen_from(sheet, setting, **pose)
    half = math.hypot(w, h) / 2
    boxes = np.zeros((len(circles), 4), np.int64)
    for n, (x, y, r) in enumerate(circles):
        ring = np.linspace(0, 2 * np.pi, 24)
        q = np.stack([x + r * np.cos(ring), y + r * np.sin(ring), np.ones(24)], 1) @ H.T
        perfect = q[:, :2] / q[:, 2:]
        at = perfect * (1 + setting.k1 * (perfect**2).sum(1, keepdims=True) / half**2) + (w / 2, h / 2)
        boxes[n] = [*np.floor(at.min(0)).astype(int) - 2, *np.ceil(at.max(0)).astype(int) + 3]
    ink = _ink(circles, np.linalg.inv(H), np.array([setting.k1, half]), boxes, w, h)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    light = 1 + setting.uneven * (0.2 * (x / w - 0.5) - 0.15 * (y / h - 0.5) - 0.2 * ((x / w - 0.5) ** 2))
    rng = np.random.default_rng(seed)
    grain = ndimage.zoom(1 + 0.01 * rng.standard_normal((h // 8, w // 8)), 8, order=1)
    planes = [light * grain * p * (1 - 0.95 * ink) for p in setting.paper]
    return developed(planes, setting, rng), H
