"""Faults as they happen to programs: each takes the lines of a good one and chance, and gives the lines of a bad one.

None where the program has no place for the fault.
"""

import re

__all__ = ["FAULTS"]


def _any(lines, rng, pattern):
    places = [k for k, line in enumerate(lines) if re.search(pattern, line) and not line.startswith("(")]
    return rng.choice(places) if places else None


def _change(lines, k, new):
    return None if k is None else [*lines[:k], *([new] if isinstance(new, str) else new), *lines[k + 1 :]]


def _word(lines, rng, letters, change):
    letters = "".join(letters)
    k = _any(lines, rng, rf"[{letters}]-?\d")
    if k is None:
        return None
    found = list(re.finditer(rf"([{letters}])(-?\d+\.?\d*)", lines[k]))
    m = rng.choice(found)
    return _change(lines, k, lines[k][: m.start(2)] + change(m[2], rng) + lines[k][m.end(2) :])


def _turned(value, _):
    return value.removeprefix("-") if value.startswith("-") else f"-{value}"


def _digit(value, rng):
    places = [k for k, c in enumerate(value) if c.isdigit()]
    k = rng.choice(places)
    return value[:k] + rng.choice("0123456789".replace(value[k], "")) + value[k + 1 :]


def sign_of_a_word(lines, rng, letters):
    return _word(lines, rng, letters, _turned)


def sign_of_an_axis(lines, rng, letters):
    letter = rng.choice(letters)
    return [
        re.sub(rf"{letter}(-?)([\d.]+)", lambda m: f"{letter}{'' if m[1] else '-'}{m[2]}", line)
        if line[:1] != "("
        else line
        for line in lines
    ]


def inch_for_mm(lines, rng, letters):
    return [line.replace("G21", "G20") for line in lines]


def numbers_in_inch(lines, rng, letters):
    linear = "".join(c for c in letters if c in "XYZ")
    return [
        line
        if line[:1] == "("
        else re.sub(rf"([{linear}])(-?[\d.]+)", lambda m: f"{m[1]}{float(m[2]) / 25.4:.4f}", line)
        for line in lines
    ]


def lost_line(lines, rng, letters):
    k = _any(lines, rng, r"[A-Z]")
    return _change(lines, k, [])


def doubled_line(lines, rng, letters):
    k = _any(lines, rng, r"[A-Z]")
    return None if k is None else _change(lines, k, [lines[k], lines[k]])


def lines_in_disorder(lines, rng, letters):
    k = _any(lines[:-1], rng, r"[A-Z]")
    return None if k is None else [*lines[:k], lines[k + 1], lines[k], *lines[k + 2 :]]


def lost_lift(lines, rng, letters):
    """The lines from the last cut of a stroke up to the next one's first sideways move."""
    starts = [k for k, line in enumerate(lines) if line.startswith("(stroke")]
    if len(starts) < 2:
        return None
    k = rng.choice(starts[1:])
    radial = letters[2]
    last = k - 1
    while last > 0 and re.fullmatch(rf"(G[01] ?)?{radial}-?[\d.]+( ?F[\d.]+)?", lines[last]):
        last -= 1
    inside = k + 1
    if inside < len(lines) and re.fullmatch(rf"(G0 ?)?{radial}-?[\d.]+", lines[inside]):
        return [*lines[: last + 1], lines[k], *lines[inside + 1 :]]
    return [*lines[: last + 1], *lines[k:]]


def swapped_axes(lines, rng, letters):
    a, b = rng.sample(letters, 2)
    table = str.maketrans({a: b, b: a})
    return [line if line[:1] == "(" else line.translate(table) for line in lines]


def cut_tail(lines, rng, letters):
    k = rng.randrange(len(lines) // 3, len(lines) - 1)
    line = lines[k]
    return [*lines[:k], line[: rng.randrange(len(line) + 1)]]


def decimal_comma(lines, rng, letters):
    if rng.random() < 0.5:
        return [line if line[:1] == "(" else line.replace(".", ",") for line in lines]
    k = _any(lines, rng, r"\d\.\d")
    return None if k is None else _change(lines, k, lines[k].replace(".", ",", 1))


def wrong_feed_mode(lines, rng, letters):
    return [re.sub(r"G9[34]", lambda m: "G94" if m[0] == "G93" else "G93", line) for line in lines]


def wrong_feed(lines, rng, letters):
    by = rng.choice([10.0, 60.0, 25.4, 1 / 60])
    return [
        line if line[:1] == "(" else re.sub(r"F([\d.]+)", lambda m: f"F{float(m[1]) * by:.5g}", line) for line in lines
    ]


def lost_feed(lines, rng, letters):
    k = _any(lines, rng, r"F\d")
    return None if k is None else _change(lines, k, re.sub(r" ?F[\d.]+", "", lines[k]))


def shifted_start(lines, rng, letters):
    letter = rng.choice(letters)
    by = rng.choice([-1, 1]) * rng.choice([0.5, 2.0, 10.0, 45.0] if letter != letters[2] else [0.1, 0.5, 5.0])
    return [
        line if line[:1] == "(" else re.sub(rf"{letter}(-?[\d.]+)", lambda m: f"{letter}{float(m[1]) + by:.4f}", line)
        for line in lines
    ]


def depth_too_great(lines, rng, letters):
    """All radial words of feeds go 0.9 or 1.8 mm further, as by a slipped depth."""
    radial = letters[2]
    values = [float(v) for line in lines if line[:1] != "(" for v in re.findall(rf"{radial}(-?[\d.]+)", line)]
    cuts = [v for line in lines if line.startswith("G1") for v in map(float, re.findall(rf"{radial}(-?[\d.]+)", line))]
    if not cuts:
        return None
    inwards = (-1.0 if values[0] >= min(cuts) else 1.0) * rng.choice([0.9, 1.8])
    return [
        line
        if line[:1] == "(" or line.startswith("G0")
        else re.sub(rf"{radial}(-?[\d.]+)", lambda m: f"{radial}{float(m[1]) + inwards:.4f}", line)
        for line in lines
    ]


def lost_spindle(lines, rng, letters):
    return [re.sub(r"\bM3\b", "M5" if rng.random() < 0.5 else "", line) for line in lines]


def rapid_for_feed(lines, rng, letters):
    k = _any(lines, rng, r"^G1\b")
    return None if k is None else _change(lines, k, re.sub(r" ?F[\d.]+", "", lines[k].replace("G1", "G0", 1)))


def digit_of_a_word(lines, rng, letters):
    return _word(lines, rng, letters, _digit)


def lost_point(lines, rng, letters):
    return _word(lines, rng, letters, lambda value, _: value.replace(".", ""))


def incremental(lines, rng, letters):
    if rng.random() < 0.5:
        return [line.replace("G90", "G91") for line in lines]
    k = _any(lines, rng, r"^G[01]\b")
    return None if k is None else _change(lines, k, ["G91", lines[k]])


FAULTS = (
    sign_of_a_word, sign_of_an_axis, inch_for_mm, numbers_in_inch, lost_line, doubled_line, lines_in_disorder,
    lost_lift, swapped_axes, cut_tail, decimal_comma, wrong_feed_mode, wrong_feed, lost_feed, shifted_start,
    depth_too_great, lost_spindle, rapid_for_feed, digit_of_a_word, lost_point, incremental,
)  # fmt: skip
