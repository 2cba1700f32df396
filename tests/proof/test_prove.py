"""A good program is proved good, to figures worked out by hand; each seeded fault is told, with its place."""

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.blank import Cone, Cylinder, Ovoid
from engine.kernel.values import Form, Tool, Wanted
from engine.machine import Axis, FeedRule, Profile, ZZero
from tests.proof.programs import BAR, DEPTH, FROM_DEG, PLUNGE, TO_DEG, TOOL, R, X, codes, lines, proof_of, wanted

GOOD = lines()


@pytest.mark.parametrize("rule", list(FeedRule))
def test_a_good_program_has_no_findings_and_the_figures_worked_out_by_hand(rule):
    proof = proof_of(lines(rule), machine=Profile(feed_rule=rule))
    assert proof.findings == ()
    assert proof.depth_mm == pytest.approx((DEPTH, DEPTH), abs=2e-5)
    way = np.radians(TO_DEG - FROM_DEG) * (R - DEPTH)
    assert proof.cut_mm == pytest.approx(len(X) * way, rel=1e-6)
    hops = (len(X) - 1) * np.hypot(0.3, np.radians(TO_DEG - FROM_DEG) * 22.2)
    up_and_down = len(X) * (1.9 + 0.5 + 1.9) + (25.0 - 22.2) * 2
    assert proof.travel_mm == pytest.approx(hops + up_and_down, rel=1e-4)
    assert proof.extent.x_mm == (40.0, 46.0)
    assert proof.extent.angle_deg == pytest.approx((FROM_DEG, TO_DEG))
    assert proof.extent.radius_mm == pytest.approx((R - DEPTH, R - DEPTH))
    assert proof.fidelity.cut_on_art > 0.999
    assert proof.fidelity.art_cut > 0.98
    assert proof.depth_median_share == pytest.approx(1.0, abs=1e-4)
    assert proof.carved.depth_mm.max() == pytest.approx(DEPTH, abs=2e-5)
    assert proof.carved.depth_mm.dtype == np.float32


def test_the_same_text_gives_the_same_proof():
    a, b = proof_of(GOOD), proof_of(GOOD)
    assert a.carved.depth_mm.tobytes() == b.carved.depth_mm.tobytes()
    assert (a.findings, a.fidelity, a.depth_mm, a.cut_mm) == (b.findings, b.fidelity, b.depth_mm, b.cut_mm)


def test_turning_blank_and_art_together_changes_nothing_but_the_angle():
    turned = [re.sub(r"A(-?[\d.]+)", lambda m: f"A{float(m[1]) + 150 + 720:.4f}", line) for line in GOOD]
    field = wanted()
    field = Wanted(
        x_mm=field.x_mm,
        theta_rad=field.theta_rad + np.radians(150),
        depth_mm=field.depth_mm,
        feed_mm_min=field.feed_mm_min,
        plunge_mm_min=field.plunge_mm_min,
    )
    here, there = proof_of(GOOD), proof_of(turned, wanted=field)
    assert codes(there) == set()
    assert there.fidelity.art_cut == pytest.approx(here.fidelity.art_cut, abs=3e-3)
    assert there.depth_mm == pytest.approx(here.depth_mm, abs=1e-5)


def edited(pattern, repl, count=0):
    """The good program with a word changed on every line that has it, or on the first `count`."""
    out, done = [], 0
    for line in GOOD:
        new = line if count and done >= count else re.sub(pattern, repl, line)
        done += new != line
        out.append(new)
    return out


def without(pattern, which):
    """The good program without the which-th line that matches."""
    hits = [k for k, line in enumerate(GOOD) if re.search(pattern, line)]
    return [line for k, line in enumerate(GOOD) if k != hits[which]]


def scaled(letter, factor):
    return lambda m: f"{letter}{float(m[1]) * factor:.4f}"


ERROR, WARNING = "error", "warning"
FAULTS = {
    "rotary sign flipped": (edited(r"A([\d.]+)", r"A-\1"), {(ERROR, "deeper-than-asked")}),
    "a lift lost": (without(r"^G0 Z22", 5), {(ERROR, "rapid-too-low")}),
    "feed lift lost": (without(r"^G1 Z20\.3", 5), {(WARNING, "rapid-below-approach")}),
    "inches for mm": (edited("G21", "G20"), {(ERROR, "nothing-cut")}),
    "x in inches": (edited(r"X([\d.]+)", scaled("X", 1 / 25.4)), {(ERROR, "deeper-than-asked")}),
    "axes swapped": (
        [re.sub("[XA]", lambda m: "A" if m[0] == "X" else "X", line) for line in GOOD],
        {(ERROR, "deeper-than-asked")},
    ),
    "tail cut off": (GOOD[: 5 + 7 * 12], {(ERROR, "no-end"), (WARNING, "uncut")}),
    "half of the strokes gone": (GOOD[: 5 + 7 * 12] + GOOD[-3:], {(WARNING, "uncut")}),
    "ten times too deep": (edited(r"^G1 Z19\.8", "G1 Z18.0"), {(ERROR, "deeper-than-asked")}),
    "half as deep": (edited(r"^G1 Z19\.8", "G1 Z19.9"), {(WARNING, "shallow")}),
    "not at the skin": (edited(r"^G1 Z19\.8", "G1 Z20.1"), {(ERROR, "nothing-cut")}),
    "one stroke too deep": (edited(r"^G1 Z19\.8", "G1 Z19.78", 1), {(ERROR, "deeper-than-asked")}),
    "inverse time read as a feed": (edited("G93", "G94"), {(WARNING, "feed-mode"), (WARNING, "feed-too-slow")}),
    "plunged by a rapid": (edited(r"^G1 Z19\.8000 F.*", "G0 Z19.8", 1), {(ERROR, "rapid-below-approach")}),
    "approached too low": (edited(r"^G0 Z20\.3", "G0 Z20.1", 1), {(ERROR, "rapid-below-approach")}),
    "cut at a rapid": (edited(r"^G1 A60.*", "G0 A60", 1), {(ERROR, "rapid-too-low")}),
    "spindle never started": (edited(" M3", ""), {(ERROR, "spindle-off")}),
    "five times the feed": (
        edited(r"^(G1 A60.*) F([\d.]+)", lambda m: f"{m[1]} F{5 * float(m[2])}", 1),
        {(ERROR, "feed-too-fast")},
    ),
    "twice the plunge": (
        edited(r"^(G1 Z19\.8.*) F([\d.]+)", lambda m: f"{m[1]} F{2 * float(m[2])}", 1),
        {(ERROR, "plunge-too-fast")},
    ),
    "faster than the rotary": (
        edited(r"^(G1 A60.*) F([\d.]+)", lambda m: f"{m[1]} F{100}", 1),
        {(ERROR, "axis-speed")},
    ),
    "a word lost its number": (edited(r"X40\.3000", "X"), {(ERROR, "unreadable-line")}),
    "never lifted at the start": (without("^G0 Z25", 0), {(ERROR, "rapid-too-low")}),
    "started low": (edited(r"^G0 Z25\.0000", "G0 Z21", 1), {(ERROR, "rapid-too-low")}),
    "beyond the axis": (edited(r"^G1 Z19\.8", "G1 Z-0.5", 1), {(ERROR, "beyond-axis")}),
    "a slip of the decimal point": (edited(r"X40\.3", "X4030000.3", 1), {(ERROR, "too-far")}),
    "beside the blank": (edited(r"X4(\d)", r"X9\1"), {(ERROR, "art-off-blank")}),
    "wound up": (edited(r"^G0 Z22\.2000", "G0 Z22.2\nG0 A1500", 1), {("note", "wound-up")}),
    "another tool": (edited(r"^\(stroke 4\)", "T2 M6\nM3", 1), {(ERROR, "tool-changes")}),
}


@pytest.mark.parametrize("name", FAULTS)
def test_a_seeded_fault_is_told(name):
    program, expected = FAULTS[name]
    assert program != GOOD
    found = codes(proof_of(program))
    assert expected <= found


def test_an_error_says_where():
    program = edited(r"^G1 Z19\.8", "G1 Z19.75", 1)
    finding = next(f for f in proof_of(program).findings if f.code == "deeper-than-asked")
    assert "0.250" in finding.message and "0.200" in finding.message
    assert (finding.where.stroke, finding.where.x_mm) == (1, 40.0)
    assert finding.where.line in {9, 10}
    assert 20 <= finding.where.angle_deg <= 60


def test_a_cut_deep_between_its_ends_alone_is_found():
    """On a blank that is not round a straight move may dive under a crest."""
    lobed = LobedBar()
    program = ["G21 G90 G94", "G0 Z30", "G0 X45 A0", "S9000 M3", "G0 Z20.4", "(stroke 1)", "G1 Z19.9 F50"]
    program += ["G1 A120 F500", "G1 Z20.4 F50", "G0 Z30", "M5", "M2"]
    proof = proof_of(program, skin=lobed, wanted=None, machine=Profile(feed_rule=FeedRule.LINEAR_AXES_ONLY))
    assert proof.depth_mm[1] > 1.8  # the crest stands at 22
    assert proof.fidelity is None


class LobedBar:
    x_range_mm = (0.0, 90.0)
    sigma_mm = 0.0
    is_round = False

    def radius(self, x_mm, theta_rad):
        _, t = np.broadcast_arrays(x_mm, theta_rad)
        return 21.0 - np.cos(3 * t)

    def slopes(self, x_mm, theta_rad):
        _, t = np.broadcast_arrays(x_mm, theta_rad)
        return np.zeros(t.shape), 3 * np.sin(3 * t)


def test_limits_are_those_of_the_words():
    def found(**axis):
        return codes(proof_of(GOOD, machine=Profile(rotary=Axis(letter="A", **axis))))

    assert found(least=0, greatest=60) == set()
    assert found(least=0, greatest=59.9) == {(ERROR, "axis-limit")}
    assert found(least=20.1, greatest=90) == {(ERROR, "axis-limit")}
    short = Axis(letter="X", least=0, greatest=45.9)
    assert codes(proof_of(GOOD, machine=Profile(axial=short))) == {(ERROR, "axis-limit")}


def test_reversed_axes_and_a_zero_on_the_skin_are_the_same_work():
    flipped = [re.sub(r"A([\d.]+)", r"A-\1", line) for line in GOOD]
    flipped = [re.sub(r"Z([\d.]+)", lambda m: f"Z{float(m[1]) - R:.4f}", line) for line in flipped]
    machine = Profile(rotary=Axis(letter="A", reversed=True), z_zero=ZZero.SURFACE)
    proof = proof_of(flipped, machine=machine, zero_r_mm=R)
    assert proof.findings == ()
    assert proof.fidelity.art_cut == pytest.approx(proof_of(GOOD).fidelity.art_cut, abs=1e-9)


def test_a_controller_that_reads_f_otherwise_is_told():
    program = lines(FeedRule.LINEAR_AXES_ONLY)
    assert codes(proof_of(GOOD, machine=Profile(feed_rule=FeedRule.ALL_AXES))) == {(ERROR, "feed-mode")}
    one = [re.sub(r"^G1 A60\.0000", "G1 X46.0000 A60.0000", line) for line in program]
    told = codes(proof_of(one, machine=Profile(feed_rule=FeedRule.LINEAR_AXES_ONLY)))
    assert (ERROR, "feed-too-fast") in told and (ERROR, "axis-speed") in told


def test_how_sure_of_holes_alone():
    vague = Cylinder(diameter_mm=40, length_mm=90, sigma_mm=0.15)
    holes = [line for line in GOOD if not line.startswith("G1 A")]
    proof = proof_of(holes, skin=vague, wanted=None)
    assert proof.cut_mm == 0 and proof.sure is not None
    assert proof.sure.unmarked.mean == pytest.approx(proof_of(GOOD, skin=vague).sure.unmarked.mean, abs=1e-3)


def test_walls_and_uncertain_skins():
    assert codes(proof_of(GOOD, wall_mm=0.5)) == set()
    assert codes(proof_of(GOOD, wall_mm=0.15)) == {(ERROR, "wall")}
    unsure = Cylinder(diameter_mm=40, length_mm=90, sigma_mm=0.03)
    assert codes(proof_of(GOOD, skin=unsure, wall_mm=0.25)) == {(WARNING, "thin-wall"), (WARNING, "uncertain")}
    told = next(f for f in proof_of(GOOD, skin=unsure, wall_mm=0.25).findings if f.code == "uncertain")
    assert "of the cut" in told.message and "come out too deep" in told.message and "less deep" in told.advice
    assert codes(proof_of(GOOD, skin=unsure, wall_mm=0.5)) == set()
    assert codes(proof_of(GOOD, wall_mm=0.5, wall_min_mm=0.29)) == set()
    assert codes(proof_of(GOOD, wall_mm=0.5, wall_min_mm=0.31)) == {(ERROR, "wall")}
    assert codes(proof_of(GOOD, skin=unsure, wall_mm=0.5, wall_min_mm=0.27)) == {
        (WARNING, "thin-wall"),
        (WARNING, "uncertain"),
    }
    vague = Cylinder(diameter_mm=40, length_mm=90, sigma_mm=0.15)
    assert codes(proof_of(GOOD, skin=vague)) == {(WARNING, "uncertain")}


@pytest.mark.parametrize(
    ("tool", "steep"),
    [(Tool(), False), (Tool(angle_deg=120), True), (Tool(form=Form.FLAT, diameter_mm=0.5), True)],
    ids=["cone 60", "cone 120", "flat"],
)
def test_a_skin_that_leans_beyond_the_tools_form_is_told(tool, steep):
    skin = Cone(diameter_mm=20, end_diameter_mm=100, length_mm=60)  # 33.7 degrees
    program = ["G21 G90 G93", "G0 Z60", "G0 X30 A0", "S9000 M3", "G0 Z32", "G1 Z29.7 F30", "G1 A30 F15", "G0 Z60", "M2"]
    found = codes(proof_of(program, skin=skin, tool=tool, wanted=None))
    assert ((WARNING, "too-steep") in found) is steep
    for most, told in ((33.0, True), (34.5, False)):
        limited = codes(proof_of(program, skin=skin, tool=replace(tool, tilt_max_deg=most), wanted=None))
        assert ((WARNING, "too-steep") in limited) is told
    gentle = codes(proof_of(GOOD, tool=tool, wanted=None))
    assert (WARNING, "too-steep") not in gentle


def test_a_blunter_tool_than_was_meant_cuts_beside_the_art():
    proof = proof_of(GOOD, tool=Tool(angle_deg=140, tip_mm=3.0))
    assert (WARNING, "beside-art") in codes(proof)
    assert proof.fidelity.cut_on_art < 0.9


def test_a_shop_line_of_the_profile_is_passed_over_and_told():
    machine = Profile(header=("G28 Z0",))
    program = [*GOOD[:2], "G28 Z0", *GOOD[2:]]
    assert codes(proof_of(program, machine=machine)) == {(WARNING, "shop-line")}
    assert (ERROR, "unreadable-line") in codes(proof_of(program))
    late = [*GOOD[:20], "G28 Z0", *GOOD[20:]]
    assert ERROR in {severity for severity, _ in codes(proof_of(late, machine=machine))}


def test_passes_in_steps_are_told_by_their_last():
    stepped = []
    for line in GOOD:
        if line.startswith("G1 Z19.8"):
            stepped += [f"G1 Z19.9000 F{PLUNGE / 0.4:.6f}", f"G1 A{TO_DEG} F17.3", f"G1 Z19.8000 F{PLUNGE / 0.1:.6f}"]
        elif line.startswith("G1 A60"):
            stepped.append(f"G1 A{FROM_DEG} F17.3")
        else:
            stepped.append(line)
    proof = proof_of(stepped)
    assert codes(proof) == set()
    assert proof.depth_mm == pytest.approx((DEPTH, DEPTH), abs=1e-4)


def test_an_egg_is_looked_at_to_its_very_pole():
    egg = Ovoid(length_mm=57, breadth_mm=44, shift_mm=2, quarter_diameter_mm=36.5)
    program = ["G21 G90 G94", "G0 Z40", "G0 X56.9 A0", "S9000 M3", "G1 Z1 F900", "G1 A360 F900", "G1 X60 F100"]
    proof = proof_of([*program, "G0 Z40", "M2"], skin=egg, wanted=None)
    assert (WARNING, "too-steep") in codes(proof)
    assert (ERROR, "art-off-blank") not in codes(proof)  # beyond the pole there is nothing to cut
    # The shank's lower edge is the deepest: its distance from the nearest place of the meridian.
    edge = 56.9 - TOOL.outer_mm, 1.0 + (TOOL.outer_mm - TOOL.flat_mm) * TOOL.flank
    x = np.linspace(50.0, 57.0, 400_001)
    nearest = np.hypot(x - edge[0], egg.radius(x, np.zeros(1)) - edge[1]).min()
    assert proof.depth_mm[1] == pytest.approx(nearest, abs=0.02)
    assert np.isfinite(proof.carved.depth_mm).all()


NOISE = st.sampled_from(
    [
        "G0 X0",
        "G1 Z1 F1",
        "G0 A99999",
        "G93",
        "G94",
        "X1e9",
        "M3",
        "G91",
        "G20",
        "(stroke 2)",
        "Z-50",
        "%",
        "/G0 Z0",
        "é",
        "M2",
    ]
)


@settings(derandomize=True, deadline=None, max_examples=25)
@given(st.lists(NOISE, max_size=8))
def test_no_text_raises(noise):
    proof = proof_of(["G21 G90 G94 F100", *noise])
    assert np.isfinite(proof.carved.depth_mm).all()
    assert np.isfinite([*proof.depth_mm, proof.cut_mm, proof.travel_mm, proof.depth_median_share]).all()


@pytest.mark.parametrize("text", ["", "%", "M2", "G21 G90 G94\nM2", "(never closed", "G21 G90 G94\nG0 Z5\nM2"])
def test_a_text_that_does_nothing_is_an_error(text):
    assert any(severity == ERROR for severity, _ in codes(proof_of([text])))
    assert proof_of([text]).carved.depth_mm.max() == 0
    assert BAR.radius(np.array([45.0]), np.zeros(1))[0] == R


@pytest.mark.parametrize(
    ("old", "new", "finding"),
    [
        ("S9000 M3", "S0 M3", ("error", "spindle-off")),
        ("S9000 M3", "M3", ("warning", "spindle-speed")),
        ("S9000 M3", "S9000 M4", ("warning", "spindle-reversed")),
        ("G0 Z25.0000", "/G0 Z25.0000", ("error", "block-delete")),
    ],
)
def test_a_spindle_or_a_line_left_open_is_told(old, new, finding):
    text = [new if line == old else line for line in lines()]
    assert finding in {(f.severity.value, f.code) for f in proof_of(text).findings}


def test_a_step_inwards_that_coarse_words_leave_of_a_cut_is_no_plunge():
    machine = Profile(feed_rule=FeedRule.ALL_AXES, decimals=2)
    text = lines(FeedRule.ALL_AXES)
    cut = next(k for k, line in enumerate(text) if line.startswith("G1 A"))
    feed = text[cut].partition("F")[2]
    shallow = [
        *text[:cut],
        f"G1 Z{R - DEPTH - 0.02:.2f} F{feed}",
        f"{text[cut].partition('F')[0]}F{feed}",
        *text[cut + 1 :],
    ]
    deep = [line.replace("19.78", "19.77") for line in shallow]
    told = [{f.code for f in proof_of(each, machine=machine).findings} for each in (shallow, deep)]
    assert "plunge-too-fast" not in told[0] and "plunge-too-fast" in told[1]
