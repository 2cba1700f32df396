"""The whole way of a touch probe by the routes: program, controller, log, skin; and a blank that was put back."""

import json

import numpy as np
import pytest

from engine.blank import sigma_at, write_grid
from engine.kernel.errors import BlankError, JobError
from engine.machine import Profile
from engine.measure.chucking import Motion
from tests.measure.chucking.bodies import readings_of
from tests.measure.probing.logs import written
from tests.measuring.ask import ask, problems, skin_of
from tests.measuring.probing import BALL, GOURD, GUESS, centre_mm, log_of
from tests.program.controller import run
from tests.program.paths import on_blank

STATIONS, ANGLES = np.linspace(8, 112, 20).round(2).tolist(), 24
WILD = {33, 101, 250, 400, 461}
PLACES = {"search_mm": 6, "blank": GUESS, "stations": STATIONS, "angles": ANGLES, "tip_radius_mm": BALL}


def program(**change):
    return ask("probe-program", {**PLACES, **change})


def missed(answer, body=GOURD):
    skin = skin_of(answer)
    x, theta = np.linspace(8, 112, 105), np.arange(180) * np.pi / 90
    return skin.radius(x[:, None], theta) - body.radius(x[:, None], theta), sigma_at(skin, x[:, None], theta)


def test_a_gourd_is_touched_and_its_skin_comes_out_within_the_noise_all_wild_touches_found():
    told = program()
    assert told.value["points"] == 480 and told.value["time_s"] > 0
    log = log_of(told.text, noise_mm=0.02, wild=WILD, seed=3)
    answer = ask("probe-log", {"log": "log", **PLACES}, files={"log": log})
    error, sigma = missed(answer)
    assert np.sqrt((error**2).mean()) < 0.02
    assert 0.4 < np.sqrt(((error / sigma) ** 2).mean()) < 1.5
    states = answer.value["readings"]["state"]
    assert states.count("left out") <= len(WILD) + 5 and len(states) == 480
    left_out = {
        (round(x, 1), round(a) % 360)
        for x, a, s in zip(*(answer.value["readings"][k] for k in ("x_mm", "angle_deg", "state")), strict=True)
        if s != "used"
    }
    assert len(left_out) >= len(WILD)
    assert "outliers" in {f["code"] for f in answer.value["findings"]}
    json.dumps(answer.value, allow_nan=False)


def test_a_log_of_another_run_is_refused_with_the_place_where_they_part():
    log = log_of(program(stations=STATIONS[:5]).text)
    with pytest.raises(BlankError, match="touches") as told:
        ask("probe-log", {"log": "log", **PLACES}, files={"log": log})
    assert told.value.where == "/log" and told.value.hint
    taken = ask(
        "probe-log", {"log": "log", "tip_radius_mm": BALL}, files={"log": log_of(program(stations=STATIONS[::2]).text)}
    )
    assert np.abs(missed(taken)[0][10:-10]).max() < 0.3  # without the program's points the log is taken as it comes


def test_hardware_is_not_touched_and_a_fragile_blank_slowly():
    held = {**GUESS, "keep_out": [{"from_mm": 95, "to_mm": 120, "why": "chuck", "radius_mm": 45}]}
    told = program(blank=held, fragile=True)
    assert told.value["points"] < 480
    codes = {f["code"] for f in told.value["findings"]}
    assert "fragile-blank" in codes and len(codes) > 1
    ran = run(told.text.encode(), ("X", "A", "Z"), lambda place: 10.0)
    assert all(place["X"] < 95 for place, _ in ran.touches)
    assert "F30" in told.text and "caution" in told.text


def test_what_cannot_be_asked_is_told_by_its_place():
    assert problems("probe-program", {}) == {"/blank", "/stations", "/angles", "/tip_radius_mm"}
    assert problems("probe-log", {"log": "none", "tip_radius_mm": 1}) == {"/log"}
    assert problems(
        "rechuck", {"log": "l", "tip_radius_mm": 1, "blank": {"shape": "grid", "asset": "no"}}, assets={"l": "readings"}
    ) == {"/blank/asset"}
    with pytest.raises(BlankError, match="stations and angles"):
        ask("probe-log", {"log": "log", "tip_radius_mm": 1, "stations": [1]}, files={"log": b"1 2 3 4\n" * 9})


MOTION = Motion(
    shift_mm=0.8, turn_rad=np.radians(7), tilt_y_rad=np.radians(0.3), tilt_z_rad=np.radians(0.4), pivot_mm=60.0
)
JOB = {
    "schema": "roundwright.job/1",
    "name": "Gourd, second day",
    "blank": {**GUESS, "wall_mm": 5.0},
    "artwork": [
        {
            "asset": "leaf",
            "placement": {"x_mm": 60, "angle_deg": 90, "width_mm": 20},
            "depth_mm": 0.2,
            "marking": {"style": "outline"},
        },
        {"border": {"kind": "rope", "along": "frame", "around": 0}, "depth_mm": 0.2},
    ],
}


def stored():
    x, theta = np.linspace(5, 115, 111), np.arange(180) * np.pi / 90
    return write_grid(x, GOURD.radius(x[:, None], theta), np.full((111, 180), 0.01))


def touches_of(body, motion, seed, count=40):
    """A table of contacts, as a probe without a ball would log them."""
    rng = np.random.default_rng(seed)
    x, theta = rng.uniform(12, 108, count), rng.uniform(0, 2 * np.pi, count)
    found = readings_of(body, motion, x, theta, noise_mm=0.02, rng=rng)
    rows = zip(found.x_mm, np.degrees(found.theta_rad), found.radius_mm, strict=True)
    return "\n".join(["x_mm,angle_deg,radius_mm", *(f"{a:.4f},{b:.4f},{r - 0.001:.4f}" for a, b, r in rows)]).encode()


def test_a_blank_that_was_put_back_is_found_and_its_job_moves_with_it():
    files = {"skin": stored(), "log": touches_of(GOURD, MOTION, 4)}
    document = {"blank": {"shape": "grid", "asset": "skin"}, "job": JOB, "log": "log", "tip_radius_mm": 0.001}
    answer = ask("rechuck", document, files=files, kinds={"log": "readings"})
    value = answer.value
    assert value["shift_mm"] == pytest.approx(0.8, abs=0.08)
    assert value["turn_deg"] == pytest.approx(7.0, abs=0.2)
    assert value["tilt_deg"] == pytest.approx(0.5, abs=0.05)
    place = value["job"]["artwork"][0]["placement"]
    assert place["x_mm"] == pytest.approx(60.8, abs=0.4) and place["angle_deg"] == pytest.approx(97, abs=0.5)
    assert value["job"]["artwork"][1] == JOB["artwork"][1]  # a frame moves with its piece
    assert value["job"]["blank"] == {**value["blank"], "wall_mm": 5.0}
    assert "job-on-another-blank" in {f["code"] for f in value["findings"]}  # it was laid on calliper readings
    skin = skin_of(answer)
    probe = readings_of(GOURD, MOTION, np.linspace(20, 100, 30), np.linspace(0, 6, 30))
    assert skin.radius(probe.x_mm, probe.theta_rad) == pytest.approx(probe.radius_mm, abs=0.06)


def test_a_job_that_goes_along_is_a_job_or_is_refused_with_its_place():
    files = {"skin": stored(), "log": touches_of(GOURD, MOTION, 4)}
    document = {"blank": {"shape": "grid", "asset": "skin"}, "log": "log", "tip_radius_mm": 0.001}
    for wrong in ({"name": "x"}, {**JOB, "artwork": [{"asset": "leaf"}]}, {**JOB, "blank": "gourd"}):
        with pytest.raises(JobError) as told:
            ask("rechuck", {**document, "job": wrong}, files=files, kinds={"log": "readings"})
        assert all(problem.pointer.startswith("/job") for problem in told.value.problems)


def test_a_round_bar_is_not_guessed_at():
    bar = {"shape": "cylinder", "diameter_mm": 50, "length_mm": 120, "radius_error_mm": 0.01}
    rows = "\n".join(f"{x}, {a}, 25.0" for x in (15, 40, 80, 105) for a in range(0, 360, 36))
    log = ("x_mm,angle_deg,radius_mm\n" + rows).encode()
    document = {"blank": bar, "job": JOB, "log": "log", "tip_radius_mm": 0.001}
    value = ask("rechuck", document, files={"log": log}, kinds={"log": "readings"}).value
    assert value["turn_deg"] is None and value["shift_mm"] is None and value["job"] is None
    assert {"turn-unknown", "shift-unknown"} <= {f["code"] for f in value["findings"]}


def test_callipers_and_six_touches_tell_how_a_blank_is_held():
    bar = {"shape": "cylinder", "diameter_mm": 50, "length_mm": 100, "radius_error_mm": 0.02}
    places = [(x, a) for x in (10, 90) for a in (0, 120, 240)]
    offset = {10: 0.2, 90: 0.6}  # the bar's axis runs from 0.2 to 0.6 mm aside, towards angle 0
    rows = "\n".join(
        f"{x},{a},{np.sqrt(625 - (offset[x] * np.sin(np.radians(a))) ** 2) + offset[x] * np.cos(np.radians(a)):.5f}"
        for x, a in places
    )
    log = ("x_mm,angle_deg,radius_mm\n" + rows).encode()
    answer = ask(
        "correct", {"blank": bar, "log": "log", "tip_radius_mm": 0.001}, files={"log": log}, kinds={"log": "readings"}
    )
    shown = answer.value["skin"]
    middle = int(np.abs(np.array(shown["x_mm"]) - 50).argmin())
    assert shown["runout_mm"][middle] == pytest.approx(0.4, abs=0.03)
    assert shown["runout_deg"][middle] % 360 == pytest.approx(0, abs=3) or shown["runout_deg"][middle] > 357


def bulged(x):
    return 24 + 7 * np.sin(x / 25 - 0.6)


@pytest.mark.parametrize(
    ("stretch", "touches", "code"),
    [(1.0, 12, None), (1.0, 40, None), (1.05, 12, "base-does-not-fit"), (1.05, 40, "correction-unseen")],
)
def test_a_base_of_another_length_is_told_and_the_error_holds_what_it_spoils(stretch, touches, code):
    stations = [{"x_mm": x, "diameter_mm": 2 * float(bulged(x))} for x in range(0, 101, 5)]
    base = {"shape": "stations", "stations": stations, "radius_error_mm": 0.05}
    rng = np.random.default_rng(1)
    rows = [
        f"{x:.3f},{90 * k},{bulged(x * stretch) + rng.normal(0, 0.02):.4f}"
        for x in np.linspace(5, 92, touches // 4)
        for k in range(4)
    ]
    log = "\n".join(["x_mm,angle_deg,radius_mm", *rows]).encode()
    asked = {"blank": base, "log": "log", "tip_radius_mm": 0.001}
    answer = ask("correct", asked, files={"log": log}, kinds={"log": "readings"})
    skin, x, theta = skin_of(answer), np.linspace(2, 98, 60)[:, None], np.arange(24) * np.pi / 12
    error = skin.radius(x, theta) - bulged(x * stretch)
    assert np.sqrt((error**2).mean()) < 1.1 * answer.value["sigma_mm"]
    told = {f["code"]: f for f in answer.value["findings"]}
    assert set(told) == set() if code is None else told[code]["severity"] == "warning"
    if code == "base-does-not-fit":
        assert "4 of 12 touches" in told[code]["message"] and told[code]["advice"]


def test_the_tool_waits_over_blank_and_hardware_or_is_refused():
    chuck = {"from_mm": -5, "to_mm": 10, "why": "chuck", "radius_mm": 80}
    held = {**GUESS, "keep_out": [chuck, {"from_mm": 112, "to_mm": 118, "why": "steady"}]}
    told = ask("turn-program", {"angles_deg": [0, 180], "blank": held})
    ran = run(told.text.encode(), ("X", "A", "Z"))
    assert all(place["Z"] >= 82 for _, _, place in ran.waits)
    assert "keep-out-reach" in {f["code"] for f in told.value["findings"]} and "not known" in told.text
    with pytest.raises(BlankError) as low:
        ask("turn-program", {"angles_deg": [0, 180], "blank": held, "park_r_mm": 60})
    assert low.value.where == "/park_r_mm"
    over = ask("probe-program", {**PLACES, "blank": held})
    assert "keep-out-reach" in {f["code"] for f in over.value["findings"]} and "not known" in over.text


def test_a_zero_taken_from_the_guess_is_as_unsure_as_the_guess():
    machine = {"z_zero": "surface", "touch_off": {"x_mm": 60, "angle_deg": 0}}
    asked = {**PLACES, "stations": STATIONS[::3], "angles": 12, "machine": machine}
    profile, true_zero = Profile(), float(GOURD.radius(np.array([60.0]), np.zeros(1))[0])

    def trips(place):
        x, angle, _ = on_blank(place, profile, 0.0)
        return centre_mm(GOURD, x, np.radians(angle)) - BALL - true_zero

    ran = run(ask("probe-program", asked).text.encode(), profile.letters, trips)
    files = {"log": written("bracketed", ran.touches, profile)}
    guessed = ask("probe-log", {"log": "log", **asked}, files=files).value
    assert "zero-by-guess" in {f["code"] for f in guessed["findings"]} and guessed["sigma_mm"] > 1.5
    stated = ask("probe-log", {"log": "log", **asked, "zero_r_mm": true_zero}, files=files).value
    assert stated["sigma_mm"] < 0.3 and "zero-by-guess" not in {f["code"] for f in stated["findings"]}
    with pytest.raises(BlankError, match="zeroed on the skin"):
        ask("probe-log", {"log": "log", "tip_radius_mm": BALL, "machine": machine}, files=files)


def test_the_turning_program_parks_over_the_blank_and_waits_at_each_angle():
    told = ask("turn-program", {"angles_deg": [0, 90, 180, 270], "blank": GUESS})
    ran = run(told.text.encode(), ("X", "A", "Z"))
    assert [place["A"] for _, _, place in ran.waits] == [0, 90, 180, 270]
    assert all(place["Z"] > 36 + 2 for _, _, place in ran.waits) and "M3" not in told.text
    clip = ask("turn-program", {"angles_deg": [0, 120, 240], "blank": GUESS, "wait": 1.5})
    assert clip.text.count("G4 P1.5") == 3


def test_a_table_with_gaps_is_filled_with_its_error():
    x, theta = np.linspace(10, 100, 19), np.arange(24) * np.pi / 12
    lines = ["x_mm;angle_rad;radius_mm"]
    for i, a in enumerate(x):
        for j, t in enumerate(theta):
            r = "" if (i * 7 + j) % 11 == 3 else f"{float(GOURD.radius(a, t)):.4f}".replace(".", ",")
            lines.append(f"{a:.3f};{t:.6f};{r}".replace(".", ","))
    table = "\n".join(lines).encode()
    answer = ask(
        "grid",
        {"asset": "t", "angle_unit": "radians", "columns": {"x": "x_mm", "angle": "angle_rad", "radius": "radius_mm"}},
        files={"t": table},
    )
    skin = skin_of(answer)
    at = np.linspace(12, 98, 50)[:, None]
    error = np.abs(skin.radius(at, theta) - GOURD.radius(at, theta))
    assert error.max() < 0.15
    shown = np.array(answer.value["skin"]["known"])
    assert 0 < (shown == 0).mean() < 0.7
    assert "filled" in {f["code"] for f in answer.value["findings"]}
