"""Logs as controllers leave them, for the tests: each form, with what else stands in such files."""

import numpy as np

LETTERS = "XYZABC"
NOISE = ["ok", "", "> ", "[MODE:G0 G54 G21]", "G38.2 Z19.5000 F60", "N40 G0 X20 A90", "(point 3 of 9: x 20, angle 0)"]
NOISE += ["<Idle|WPos:20.000,0.000,31.800|F:0,0>", "ready", "$", "ALARM:1", "[ZERO:0.000,0.000,0.000]"]


def rows(touches, profile, unit):
    """(k, 6) words X to C of each touch in the log's unit, and whether it found something."""
    table = np.zeros((len(touches), 6))
    for k, (place, _) in enumerate(touches):
        for letter, value in place.items():
            linear = letter in "XYZ" or (letter == profile.rotary.letter and profile.mm_per_turn is not None)
            table[k, LETTERS.index(letter)] = value / (25.4 if linear and unit == "inch" else 1.0)
    return table, [found for _, found in touches]


def noisy(lines, rng):
    """The lines with others strewn between."""
    out = []
    for line in lines:
        out += [NOISE[i] for i in rng.integers(0, len(NOISE), rng.integers(0, 4))] + [line]
    return [*out, "ok", ""]


def width(profile):
    """Columns that hold every axis of the machine."""
    return max(4, 1 + max(LETTERS.index(letter) for letter in profile.letters))


def bracketed(table, found, profile, rng):
    n = width(profile) + int(rng.integers(0, 7 - width(profile)))
    lines = [f"[touch:{','.join(f'{v:.4f}' for v in row[:n])}:{int(ok)}]" for row, ok in zip(table, found, strict=True)]
    return noisy(lines, rng)


def spaced(table, found, profile, rng):
    gap = ["\t", " ", "   "][rng.integers(0, 3)]
    return noisy([gap.join(f"{v:.4f}" for v in row[: width(profile)]) for row in table], rng)


def comma_table(table, found, profile, rng):
    at = [LETTERS.index(letter) for letter in profile.letters]
    lines = [f"{k},{row[at[2]]:.4f},{row[at[0]]:.4f},{row[at[1]]:.4f}" for k, row in enumerate(table)]
    return ["logged at the fair", "n,z,x,a", *lines]


def semicolon_table(table, found, profile, rng):
    at = [LETTERS.index(letter) for letter in profile.letters]
    lines = [
        ";".join(f"{row[k]:.4f}".replace(".", ",") for k in at) + f";{int(ok)}"
        for row, ok in zip(table, found, strict=True)
    ]
    return noisy(["x;a;z;ok", *lines], rng)


FORMS = {"bracketed": bracketed, "spaced": spaced, "comma": comma_table, "semicolon": semicolon_table}


def written(form, touches, profile, *, unit="mm", seed=0):
    """The bytes of a log."""
    rng = np.random.default_rng(seed)
    table, found = rows(touches, profile, unit)
    lines = FORMS[form](table, found, profile, rng)
    return ("\r\n" if seed % 3 else "\n").join(lines).encode("ascii")
