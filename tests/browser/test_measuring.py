"""The measuring bench in the page, before a server that is made up: what is asked, shown, refused and taken."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.bench import TOLD, open_empty, operation, set_field, violations
from tests.browser.measured import lobed
from tests.browser.measuring_bench import (
    ASSET,
    PASTE,
    Fake,
    choose,
    filled,
    last_blank,
    measuring,
    press,
    reopened,
    typed,
)

PROBLEM = {"type": "/problems/invalid", "title": "The document is not valid", "status": 422}


@pytest.fixture
def fake(page):
    return Fake(page)


def test_a_blank_is_measured_and_taken_by_keyboard_alone(page, address, fake):
    open_empty(page, address)
    keys = page.keyboard

    def go(label):
        for _ in range(80):
            keys.press("Tab")
            if (page.evaluate(TOLD) or "").replace("\n", " ").startswith(label):
                return
        pytest.fail(f"the Tab key never came to {label}")

    operation(page, "Blank")
    page.locator("#op-blank-button").focus()
    go("Measure …")
    keys.press("Enter")
    expect(page.get_by_role("dialog", name="Measure the blank")).to_be_visible()
    go("Station x, row 1")
    for x in ("0", "20,5", "40"):  # a column down by Enter
        keys.type(x)
        keys.press("Enter")
    for _ in range(3):
        keys.press("ArrowUp")
    keys.press("Tab")
    for diameter in ("30", "36.5", "31"):
        keys.type(diameter)
        keys.press("Enter")
    go("Measure")
    keys.press("Enter")
    go("Profile: mean, least")
    now = page.locator("#plots-now")
    before = now.inner_text()
    keys.press("Home")
    keys.press("ArrowRight")
    keys.press("Enter")
    assert now.inner_text() != before
    expect(page.get_by_role("list", name="Sections shown")).to_contain_text("x 7.07 mm")
    go("Use this skin")
    blank = last_blank(page, lambda: keys.press("Enter"))
    assert blank["shape"] == "grid"
    assert fake.asked == [
        ("callipers", {"stations": [
            {"x_mm": 0, "diameter_mm": 30}, {"x_mm": 20.5, "diameter_mm": 36.5}, {"x_mm": 40, "diameter_mm": 31},
        ]})
    ]  # fmt: skip
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_the_skin_takes_the_blanks_place_and_undo_brings_it_back(page, address, fake):
    dialog = measuring(page, address)
    dialog.get_by_role("button", name="close").click()
    form = operation(page, "Blank")
    set_field(form, "Material", "gourd")
    set_field(form, "Wall", "4")
    set_field(form, "Known to ±", "0.2")
    form.get_by_text("Keep-outs").click()
    form.get_by_role("button", name="Add a keep-out").click()
    reopened(page)
    typed(page, ("0", "30"), ("40", "36", "37"))
    press(dialog, "Measure")
    assert "reading_error_mm" not in fake.asked[0][1] and fake.asked[0][1]["stations"][1] == {
        "x_mm": 40,
        "diameter_mm": 36,
        "across_mm": 37,
    }
    expect(dialog.get_by_text("Known to ± 0.030 mm")).to_be_visible()
    blank = last_blank(page, lambda: press(dialog, "Use this skin"))
    assert blank.pop("keep_out")[0]["why"] == "chuck"
    assert blank == {"shape": "grid", "asset": "0" * 64, "radius_error_mm": 0.03, "material": "gourd", "wall_mm": 4}
    back = last_blank(page, lambda: page.get_by_role("button", name="Undo: blank by callipers").click())
    assert back["shape"] == "cylinder" and back["radius_error_mm"] == 0.2


def test_a_spreadsheet_is_pasted_in_the_unit_shown(page, address, fake):
    dialog = measuring(page, address)
    choose(dialog, "inch")
    dialog.get_by_label("Station x, row 1").evaluate(PASTE, "x;d\n0;1,25\n1;1,5\n2;1,375\n")
    expect(dialog.get_by_label("Diameter, row 2")).to_have_value("1.500")
    expect(dialog.get_by_text("3 stations from x 0.000 to 2.000 in")).to_be_visible()
    choose(dialog, "mm")
    expect(dialog.get_by_label("Diameter, row 1")).to_have_value("31.75")
    press(dialog, "Measure")
    assert [s["diameter_mm"] for s in fake.asked[0][1]["stations"]] == pytest.approx([31.75, 38.1, 34.925])


def test_a_half_typed_reading_is_not_written_over(page, address, fake):
    dialog = measuring(page, address)
    typed(page, ("0",))
    page.keyboard.type("30.5")
    page.evaluate("""new Promise((drawn) => {
      document.querySelector('.sheet-table tbody').dispatchEvent(new FocusEvent('focusout'));
      requestAnimationFrame(() => requestAnimationFrame(drawn)); })""")  # leaving a cell draws the table a moment later
    page.keyboard.press("Enter")
    expect(dialog.get_by_label("Diameter, row 1")).to_have_value("30.5")


def test_the_egg_curve_is_fitted_with_its_residuals(page, address, fake):
    dialog = measuring(page, address)
    egg = fake.usual | {"blank": {"shape": "ovoid", "length_mm": 60, "breadth_mm": 45, "shift_mm": 2,
                                  "quarter_diameter_mm": 35, "radius_error_mm": 0.04}}  # fmt: skip
    fake.answers["ovoid"] = {"json": egg}
    filled(page, ("5", "20"), ("20", "42"), ("30", "45"))
    press(dialog, "Fit an egg curve", barred=True)
    expect(dialog.get_by_text("It takes 4 stations or more.")).to_be_visible()
    assert fake.asked == []
    filled(page, ("5", "20"), ("20", "42"), ("30", "45"), ("50", "30"))
    set_field(dialog, "Length of the egg", "60")
    press(dialog, "Fit an egg curve")
    expect(dialog.get_by_label("Residuals: reading minus skin over x")).to_be_visible()
    assert fake.asked[0][0] == "ovoid" and fake.asked[0][1]["length_mm"] == 60
    assert last_blank(page, lambda: press(dialog, "Use this skin"))["quarter_diameter_mm"] == 35


def test_what_the_server_refuses_stands_at_its_cell(page, address, fake):
    dialog = measuring(page, address)
    errors = [{"pointer": "/stations/1/diameter_mm", "given": 900, "allowed": "at most 500"}]
    fake.answers["callipers"] = {"status": 422, "json": PROBLEM | {"detail": "Mend it.", "errors": errors}}
    typed(page, ("40", "900"), ("0", "30"))  # sorted by x, the refused station is the first row
    press(dialog, "Measure")
    expect(dialog.get_by_label("Diameter, row 1")).to_have_attribute("aria-invalid", "true")
    expect(dialog.get_by_label("Diameter, row 2")).not_to_have_attribute("aria-invalid", "true")
    expect(dialog.get_by_text("Row 1: The server asks for at most 500.")).to_be_visible()
    del fake.answers["callipers"]
    typed(page, ("40", "90"))
    press(dialog, "Measure")
    expect(dialog.get_by_text("Measured.")).to_be_visible()
    expect(dialog.get_by_label("Diameter, row 1")).not_to_have_attribute("aria-invalid", "true")


def test_an_error_bars_the_skin(page, address, fake):
    dialog = measuring(page, address)
    fault = {"severity": "error", "code": "not-closed", "message": "The skin does not close.", "advice": "Mend it."}
    fake.usual["findings"].insert(1, fault)
    filled(page, ("0", "30"), ("40", "36"))
    press(dialog, "Measure")
    rows = dialog.get_by_role("list", name="Findings of the measurement").get_by_role("listitem")
    expect(rows.first).to_contain_text("Error")
    expect(dialog.get_by_role("button", name="Use this skin")).to_have_attribute("aria-disabled", "true")
    expect(dialog.get_by_text("1 to mend before it can be used")).to_be_visible()


def test_nothing_typed_or_measured_is_lost_by_closing(page, address, fake):
    dialog = measuring(page, address)
    filled(page, ("0", "30"), ("40", "36"))
    press(dialog, "Measure")
    expect(dialog.get_by_label("Unrolled: the skin by station and angle")).to_be_visible()
    choose(dialog, "Probe")
    expect(dialog.get_by_text("What is measured will be drawn here")).to_be_visible()
    set_field(dialog, "Angles a turn", "36")
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    reopened(page)
    expect(dialog.get_by_label("Angles a turn", exact=True)).to_have_value("36")
    choose(dialog, "Callipers")
    expect(dialog.get_by_label("Diameter, row 2")).to_have_value("36")
    expect(dialog.get_by_label("Unrolled: the skin by station and angle")).to_be_visible()


def test_the_probe_gets_its_program_and_gives_its_log(page, address, fake):
    dialog = measuring(page, address, "Probe")
    finding = {"severity": "warning", "code": "fragile", "message": "the ball presses on the shell", "advice": None}
    fake.answers["probe-program"] = {"json": {"program": "G38.2", "findings": [finding], "points": 36, "time_s": 130}}
    for label, text in (("From x", "10"), ("To x", "40"), ("Every", "15"), ("Angles a turn", "12")):
        set_field(dialog, label, text)
    dialog.get_by_label("The blank is fragile").check()
    with page.expect_download() as waiting:
        press(dialog, "Write the program")
    assert waiting.value.suggested_filename == "probe-program.ngc"
    assert Path(waiting.value.path()).read_text() == "G38.2"
    expect(dialog.get_by_text("about 2:10 min to run.")).to_be_visible()
    expect(dialog.get_by_text("The ball presses on the shell.")).to_be_visible()
    assert violations(page, ".measure-form") == []
    press(dialog, "Read the log", barred=True)
    expect(dialog.get_by_text("Choose the log first.")).to_be_visible()
    file = {"name": "run.log", "mimeType": "text/plain", "buffer": b"[touch:1,2,3:1]"}
    dialog.get_by_label("Log of the controller", exact=True).set_input_files(file)
    expect(dialog.get_by_text("run.log", exact=True)).to_be_visible()
    press(dialog, "Read the log")
    expect(dialog.get_by_text("Measured.")).to_be_visible()
    (_, program), (_, log) = fake.asked
    places = {"stations": [10, 25, 40], "angles": 12, "tip_radius_mm": 1, "search_mm": 3}
    assert program.items() >= (places | {"feed_mm_min": 60, "fragile": True}).items()
    assert log.items() >= (places | {"log": ASSET, "unit": "mm"}).items()
    assert program["blank"] == log["blank"] == {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90}


def test_a_scan_is_asked_its_unit_and_moved_by_handles(page, address, fake):
    dialog = measuring(page, address, "Scan")
    file = {"name": "gourd.stl", "mimeType": "model/stl", "buffer": b"solid"}
    dialog.get_by_label("Scan", exact=True).last.set_input_files(file)
    press(dialog, "Measure", barred=True)
    expect(dialog.get_by_text("Say what one unit of the file is")).to_be_visible()
    assert fake.asked == []
    choose(dialog, "1 inch")
    set_field(dialog, "Turn about y", "2.5")
    press(dialog, "Measure")
    expect(dialog.get_by_text("Measured.")).to_be_visible()
    choose(dialog, "as given")
    set_field(dialog, "Through z", "7")
    press(dialog, "Measure")
    expect(dialog.locator(".told")).to_have_text("Measured.")
    found, given = (body for _, body in fake.asked)
    assert found == {"asset": ASSET, "unit": "inch", "axis": "auto", "turn_y_deg": 2.5}
    assert given["axis"] == {"origin": [0, 0, 7], "direction": [1, 0, 0]}


def test_a_table_of_readings_says_its_angles_and_columns(page, address, fake):
    dialog = measuring(page, address, "Table of readings")
    file = {"name": "grid.csv", "mimeType": "text/csv", "buffer": b"x,a,r\n"}
    dialog.get_by_label("Table of readings", exact=True).last.set_input_files(file)
    choose(dialog, "radians")
    set_field(dialog, "Column of the angle", "a")
    press(dialog, "Measure")
    expect(dialog.get_by_text("Measured.")).to_be_visible()
    columns = {"x": "x_mm", "angle": "a", "radius": "radius_mm"}
    assert fake.asked == [("grid", {"asset": ASSET, "angle_unit": "radians", "columns": columns})]


def test_the_job_moves_with_a_blank_that_was_put_back(page, address, fake):
    dialog = measuring(page, address, "Same blank again")
    job = {"schema": "roundwright.job/1", "name": "Moved", "blank": {"shape": "cylinder", "diameter_mm": 41,
                                                                      "length_mm": 90}, "artwork": []}  # fmt: skip
    fake.answers["rechuck"] = {
        "json": {"shift_mm": None, "turn_deg": 7.02, "turn_sigma_deg": 0.1, "tilt_deg": 0.5, "job": job}
    }
    file = {"name": "again.log", "mimeType": "text/plain", "buffer": b"[touch:1,2,3:1]"}
    dialog.get_by_label("Log of the controller", exact=True).set_input_files(file)
    press(dialog, "Find how it sits")
    expect(dialog.get_by_text("7.02° ± 0.1°")).to_be_visible()
    expect(dialog.get_by_text("too straight to tell")).to_be_visible()
    assert fake.asked[0][1]["job"]["name"] == "New job" and "turn_near_deg" not in fake.asked[0][1]
    assert last_blank(page, lambda: press(dialog, "Move the job with it"))["diameter_mm"] == 41
    page.get_by_role("button", name="Undo: move the job with the blank").click()
    expect(page.get_by_label("Name of the job")).to_have_value("New job")


def test_a_few_touches_correct_the_shape(page, address, fake):
    dialog = measuring(page, address, "Same blank again")
    choose(dialog, "touched to correct its shape")
    file = {"name": "six.log", "mimeType": "text/plain", "buffer": b"[touch:1,2,3:1]"}
    dialog.get_by_label("Log of the controller", exact=True).set_input_files(file)
    press(dialog, "Correct the shape")
    expect(dialog.get_by_text("Measured.")).to_be_visible()
    blank = {"shape": "cylinder", "diameter_mm": 40, "length_mm": 90}
    assert fake.asked == [("correct", {"blank": blank, "log": ASSET, "tip_radius_mm": 1, "unit": "mm"})]


def test_two_sides_are_joined_by_two_marks(page, address, fake):
    dialog = measuring(page, address)
    filled(page, ("0", "30"), ("40", "36"))
    press(dialog, "Measure")
    expect(dialog.get_by_text("Measured.")).to_be_visible()
    choose(dialog, "Same blank again")
    choose(dialog, "turned end for end")
    set_field(dialog, "Mark 1 before, x", "30")
    set_field(dialog, "Mark 2 after, θ", "-95")
    press(dialog, "Join the two")
    expect(dialog.get_by_text("Measured.")).to_be_visible()
    name, body = fake.asked[1]
    assert name == "end-for-end" and body["second"] == fake.usual["blank"] and body["first"]["shape"] == "cylinder"
    assert body["marks"] == [
        {"first": {"x_mm": 30, "angle_deg": 0}, "second": {"x_mm": 0, "angle_deg": 0}},
        {"first": {"x_mm": 0, "angle_deg": 90}, "second": {"x_mm": 0, "angle_deg": -95}},
    ]


def test_a_place_is_read_out_and_its_section_shown(page, address, fake):
    dialog = measuring(page, address)
    filled(page, ("0", "30"), ("40", "36"))
    press(dialog, "Measure")
    face = dialog.get_by_label("Unrolled: the skin by station and angle")
    canvas = face.locator("canvas").bounding_box()
    at = (canvas["x"] + canvas["width"] * (40 - 4) / 92, canvas["y"] + canvas["height"] * 0.75)
    page.mouse.move(*at)
    skin = fake.usual["skin"]
    i = min(range(31), key=lambda k: abs(skin["x_mm"][k] - 40))
    expect(page.locator("#plots-now")).to_contain_text(f"90°: radius {skin['radius_mm'][i][18]:.3f} mm")
    shown = dialog.get_by_role("list", name="Sections shown").get_by_role("listitem")
    expect(shown).to_have_count(3)
    page.mouse.click(*at)
    expect(shown).to_have_count(3)  # the oldest gave way
    expect(shown.last).to_contain_text(f"x {skin['x_mm'][i]:.1f}")
    dialog.get_by_role("button", name="remove the section").first.click()
    expect(shown).to_have_count(2)
    dialog.get_by_role("button", name=re.compile("^show: The skin may be flat")).click()
    expect(page.locator("#plots-now")).to_contain_text("90°")
    dialog.get_by_role("button", name="sigma", exact=True).click()
    expect(dialog.get_by_text("Sigma, one standard deviation, mm")).to_be_visible()
    dialog.get_by_text("As a table: unrolled").click()
    expect(dialog.get_by_role("table").get_by_text("One standard deviation of the radius, mm")).to_be_visible()


def test_a_measurement_without_readings_shows_no_residuals(page, address, fake):
    fake.usual = lobed(stations=9, angles=24)
    dialog = measuring(page, address)
    filled(page, ("0", "30"), ("40", "36"))
    press(dialog, "Measure")
    expect(dialog.get_by_text("leaves no readings to compare with")).to_be_visible()
    expect(dialog.get_by_role("heading", name="Residuals")).to_have_count(0)
