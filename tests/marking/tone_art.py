"""Art with a tone, and a referee of what strokes open: a raster of swept discs on a flat sheet, and a tool of true form
let down on the skin in space. Neither shares a method with the styles. The pictures are made up.
"""

import math

import numpy as np

from engine.artwork import Darkness, Drawing
from engine.kernel.compiled import compiled
from engine.kernel.tolerance import Tolerance
from engine.toolpath import cut, lay
from tests.toolpath.analytic import form_height


def picture(cells, width_mm, turn_rad=0.0):
    """A drawing of a tone field (rows, columns) of darkness, width_mm wide, its middle at (0, 0)."""
    rows, columns = np.shape(cells)
    side = width_mm / columns
    c, s = math.cos(turn_rad), math.sin(turn_rad)
    to_cells = np.array([[1 / side, 0.0], [0.0, -1 / side]]) @ np.array([[c, s], [-s, c]])
    field = Darkness(cells=cells, to_cells=np.column_stack([to_cells, [columns / 2, rows / 2]]))
    return Drawing(width_mm=width_mm, height_mm=rows * side, darkness=field)


def wedge(width_mm=32.0, height_mm=6.0):
    """16 even steps from bare to black, and the darkness of each."""
    steps = np.linspace(0.0, 1.0, 16)
    return picture(np.repeat(steps, 8)[None].repeat(int(8 * 16 * height_mm / width_mm), 0), width_mm), steps


def scene(n=240):
    """A made-up garden scene, as a photograph would have it: soft hills, a bright sun, leaves, a dark trunk."""
    y, x = np.mgrid[:n, :n] / n
    tone = 0.35 + 0.25 * np.sin(3.1 * x + 2 * y) * np.cos(4.3 * y - x)
    tone += 0.15 * np.sin(23 * x) * np.sin(19 * y) * (y > 0.5)
    tone -= 0.5 * np.exp(-((x - 0.75) ** 2 + (y - 0.2) ** 2) / 0.01)
    tone += 0.5 / (1 + np.exp((np.abs(x - 0.3 - 0.05 * np.sin(6 * y)) - 0.05) * 120))
    return np.clip(tone, 0.0, 0.95)


@compiled
def _paint(image, points, offsets, width, x0, y0, side):
    for s in range(len(offsets) - 1):
        for i in range(offsets[s], max(offsets[s + 1] - 1, offsets[s] + 1)):
            j = min(i + 1, offsets[s + 1] - 1)
            ax, ay, bx, by = points[i, 0], points[i, 1], points[j, 0], points[j, 1]
            ra, rb = 0.5 * width[i], 0.5 * width[j]
            r = max(ra, rb)
            for row in range(
                max(0, int((min(ay, by) - r - y0) / side)),
                min(image.shape[0], int((max(ay, by) + r - y0) / side) + 2),
            ):
                for column in range(
                    max(0, int((min(ax, bx) - r - x0) / side)),
                    min(image.shape[1], int((max(ax, bx) + r - x0) / side) + 2),
                ):
                    x, y = x0 + (column + 0.5) * side - ax, y0 + (row + 0.5) * side - ay
                    long = (bx - ax) ** 2 + (by - ay) ** 2
                    t = 0.0
                    if long > 0:
                        t = min(1.0, max(0.0, (x * (bx - ax) + y * (by - ay)) / long))
                    near = (x - t * (bx - ax)) ** 2 + (y - t * (by - ay)) ** 2
                    if near <= (ra + t * (rb - ra)) ** 2:
                        image[row, column] = 1


def opened(strokes, width_mm, box, side=0.01):
    """uint8 raster of what strokes of the given widths (n,) open on a flat sheet; row 0 at the least v."""
    x0, y0, x1, y1 = box
    image = np.zeros((round((y1 - y0) / side), round((x1 - x0) / side)), np.uint8)
    _paint(image, strokes.line.points, strokes.line.offsets, np.asarray(width_mm, float), x0, y0, side)
    return image


def cone_width(tool, depth_mm):
    """Width of a wedge on a flat skin: tip + 2 d tan(a / 2)."""
    return tool.tip_mm + 2 * depth_mm * math.tan(math.radians(tool.angle_deg / 2))


def opened_in_space(strokes, layout, tool, depth_mm, uv):
    """Whether each sheet place (n, 2) of the skin is opened: inside the tool, coming in radially, at any place of any
    stroke's path. The tip stands where the tool path puts it; the form is written anew from its drawing.
    """
    skin = layout.skin
    laid = lay(strokes, layout, depth_mm=depth_mm, tolerance=Tolerance())
    runs = cut(
        laid,
        skin,
        tool,
        depth_mm=depth_mm,
        passes=1,
        step_mm=None,
        feed_mm_min=1.0,
        plunge_mm_min=1.0,
        art=0,
        tolerance=Tolerance(),
    )
    x, theta = layout.wrap(uv)
    r = skin.radius(x, theta)
    reach = 0.6 * tool.width_mm(depth_mm) + 0.35
    grid = np.linspace(0, tool.diameter_mm / 2, 4000)
    found = np.zeros(len(x), np.bool_)
    moves = np.column_stack([runs.x_mm, runs.theta_rad, runs.r_mm])
    turn = 2 * math.pi
    theta = np.mod(theta, turn)
    order = np.argsort(x, kind="stable")
    _stamp(found, x[order], theta[order], r[order], moves, runs.run_offsets, grid, form_height(tool, grid), reach, turn)
    answer = np.zeros(len(x), np.bool_)
    answer[order] = found
    return answer


@compiled
def _stamp(found, x, theta, r, moves, offsets, grid, height, reach, turn):
    for run in range(len(offsets) - 1):
        for i in range(offsets[run], max(offsets[run + 1] - 1, offsets[run] + 1)):
            j = min(i + 1, offsets[run + 1] - 1)
            around = 0.5 * (moves[i, 2] + moves[j, 2]) * (moves[j, 1] - moves[i, 1])
            parts = int(math.sqrt((moves[j, 0] - moves[i, 0]) ** 2 + around**2) / 0.01) + 1
            low = np.searchsorted(x, min(moves[i, 0], moves[j, 0]) - reach)
            high = np.searchsorted(x, max(moves[i, 0], moves[j, 0]) + reach)
            for k in range(low, high):
                if found[k]:
                    continue
                for p in range(parts + 1):
                    tx = moves[i, 0] + (moves[j, 0] - moves[i, 0]) * p / parts
                    if abs(tx - x[k]) > reach:
                        continue
                    tt = moves[i, 1] + (moves[j, 1] - moves[i, 1]) * p / parts
                    tr = moves[i, 2] + (moves[j, 2] - moves[i, 2]) * p / parts
                    d = (theta[k] - tt + 0.5 * turn) % turn - 0.5 * turn
                    if abs(d) * r[k] > reach:
                        continue
                    q = math.sqrt((tx - x[k]) ** 2 + (r[k] * math.sin(d)) ** 2)
                    if q < grid[-1] and r[k] * math.cos(d) - tr >= height[int(q / grid[-1] * (len(grid) - 1))]:
                        found[k] = True
                        break
