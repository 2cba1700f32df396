"""Tables of readings: separators, commas, units, missing cells, and what is refused with its row and column."""

import numpy as np
import pytest

from engine.blank import MOST_ROWS
from engine.blank.csv_rows import MOST_BYTES
from engine.kernel.errors import BlankError
from engine.measure.surface import fill_grid, read_table


def table(rows, head="x_mm,angle_deg,radius_mm", mark=","):
    return "\n".join([head, *(mark.join(str(c) for c in row) for row in rows)]).encode()


def grid_rows(m=6, n=12):
    return [(10.0 * i, 30.0 * j, 20 + i + 0.1 * j) for i in range(m) for j in range(n)]


def test_a_plain_table_is_read_in_its_order_and_laid_out():
    rows = grid_rows()
    rows[7], rows[20] = rows[20], rows[7]
    got = read_table(table(rows))
    assert got.readings.x_mm == pytest.approx([r[0] for r in rows])
    assert got.readings.theta_rad == pytest.approx(np.radians([r[1] for r in rows]))
    assert got.readings.radius_mm == pytest.approx([r[2] for r in rows])
    assert got.readings.sigma_mm == pytest.approx(0) and got.missing == 0 and not got.findings
    assert got.grid.radius_mm == pytest.approx(20 + np.arange(6)[:, None] + 0.1 * np.arange(12))


def test_semicolons_decimal_commas_own_headings_and_errors():
    rows = [
        (f"{x:.1f}".replace(".", ","), f"{a:.2f}".replace(".", ","), "", f"{r:.3f}".replace(".", ","), "0,05")
        for x, a, r in grid_rows()
    ]
    head = "\ufeffStation; Winkel ;Notiz;Radius;Fehler"
    names = {"x_mm": "Station", "angle_deg": "Winkel", "radius_mm": "Radius", "sigma_mm": "Fehler"}
    got = read_table(table(rows, head, ";"), columns=names)
    assert got.readings.radius_mm == pytest.approx([r[2] for r in grid_rows()])
    assert got.readings.sigma_mm == pytest.approx(0.05) and got.grid.sigma_mm == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("head", "unit", "columns"),
    [
        ("x_mm,angle_rad,radius_mm", None, None),
        ("x_mm,angle_deg,radius_mm", "rad", None),
        ("x_mm,turn,radius_mm", None, {"angle_rad": "turn"}),
        ("x_mm,turn,radius_mm", "rad", {"angle_deg": "turn"}),
    ],
)
def test_radians_by_the_column_or_by_word(head, unit, columns):
    rows = [(x, np.radians(a), r) for x, a, r in grid_rows()]
    got = read_table(table(rows, head), angle_unit=unit, columns=columns)
    assert got.readings.theta_rad == pytest.approx([r[1] for r in rows])
    assert got.grid.angle_deg == pytest.approx(30.0 * np.arange(12), abs=1e-5) and not got.findings


def test_degrees_that_look_like_radians_are_asked_about():
    rows = [(x, np.radians(a), r) for x, a, r in grid_rows() if a < 200]
    (told,) = read_table(table(rows)).findings
    assert told.code == "angle-unit" and told.severity.value == "warning"


def test_angles_plainly_of_the_other_unit_are_refused():
    in_radians = [(x, np.radians(a), r) for x, a, r in grid_rows()]
    with pytest.raises(BlankError, match="look like radians: they run from 0 to 5") as caught:
        read_table(table(in_radians))
    assert "radians" in caught.value.hint
    for head in ("x_mm,angle_rad,radius_mm", "x_mm,angle_deg,radius_mm"):
        with pytest.raises(BlankError, match="look like degrees: whole numbers from 0 to 330") as caught:
            read_table(table(grid_rows(), head), angle_unit="rad")
        assert "state degrees" in caught.value.hint and caught.value.where == "/angle_unit"
    wound = [(x + 0.01 * k, np.radians(a + 360 * k), r) for k, (x, a, r) in enumerate(grid_rows())]
    assert len(read_table(table(wound, "x_mm,angle_rad,radius_mm")).readings) == 72  # 72 turns of a true radian


def test_headings_may_be_in_capitals_and_those_that_are_there_are_listed_where_one_lacks():
    got = read_table(table(grid_rows(), "X_MM, Angle_Deg,RADIUS_mm"))
    assert got.readings.radius_mm == pytest.approx([r[2] for r in grid_rows()])
    assert read_table(table(grid_rows(), "POS,Turn,R"), columns={"x_mm": "Pos", "angle_deg": "turn", "radius_mm": "r"})
    with pytest.raises(
        BlankError, match="lacks a column radius_mm or diameter_mm; its headings are X, angle, R"
    ) as told:
        read_table(table(grid_rows(), "X,angle,R"), columns={"x_mm": "x", "angle_deg": "angle"})
    assert all(name in told.value.hint for name in ("x_mm", "angle_rad", "diameter_mm", "sigma_mm"))


def test_decimal_commas_between_commas_are_refused():
    rows = [(x, a, f"{r:.2f}".replace(".", ",")) for x, a, r in grid_rows()]
    with pytest.raises(BlankError, match="row 2 has more cells than the 3 headings") as caught:
        read_table(table(rows))
    assert "semicolons" in caught.value.hint
    assert len(read_table(table([(*row, "", " ") for row in grid_rows()])).readings) == len(
        grid_rows()
    )  # as some write
    quoted = [(x, a, f'"{r}"') for x, a, r in rows]
    assert read_table(table(quoted)).readings.radius_mm == pytest.approx([r[2] for r in grid_rows()])


def test_a_station_all_at_the_axis_is_the_pole_of_a_closed_piece():
    closed = [(x, a, 0 if x == 0 else r) for x, a, r in grid_rows(7)]
    got = read_table(table(closed))
    assert got.grid.x_mm.tolist() == [10, 20, 30, 40, 50, 60] and len(got.readings) == 72
    (told,) = got.findings
    assert (told.code, told.severity.value) == ("pole", "note") and "at x 0; its skin runs from x 10" in told.message
    for spoilt in (0.0, 30.0):  # one alone at the end, a whole station in the middle
        rows = [(x, a, 0 if x == spoilt and (a == 60 or spoilt) else r) for x, a, r in grid_rows(7)]
        with pytest.raises(BlankError, match="radius is 0") as caught:
            read_table(table(rows))
        assert "first or last station" in caught.value.hint
    with pytest.raises(BlankError, match="every radius is 0"):
        read_table(table([(x, a, 0) for x, a, _ in grid_rows(2)]))


def test_a_diameter_is_two_radii_and_so_is_its_error():
    rows = [(x, a, 2 * r, 0.1) for x, a, r in grid_rows()]
    got = read_table(table(rows, "x_mm,angle_deg,diameter_mm,sigma_mm"))
    assert got.readings.radius_mm == pytest.approx([r[2] for r in grid_rows()])
    assert got.readings.sigma_mm == pytest.approx(0.05)
    assert [f.code for f in got.findings] == ["half-diameters"]


def test_empty_cells_and_lacking_rows_are_missing_and_can_be_filled():
    rows = [(x, a, "" if (x, a) == (20.0, 60.0) else r) for x, a, r in grid_rows() if (x, a) != (30.0, 90.0)]
    got = read_table(table([*rows, ("", "", "")]))
    assert got.missing == 1 and len(got.readings) == 70
    assert np.argwhere(np.isnan(got.grid.radius_mm)).tolist() == [[2, 2], [3, 3]]
    g = got.grid
    filled = fill_grid(g.x_mm, g.angle_deg, g.radius_mm, sigma_mm=g.sigma_mm)
    assert filled.radius_mm[2, 2] == pytest.approx(22.2, abs=0.3)


def test_strewn_doubled_or_mostly_empty_tables_are_no_grid():
    strewn = [(x + 0.01 * k, a + 0.1 * k, r) for k, (x, a, r) in enumerate(grid_rows())]
    assert read_table(table(strewn)).grid is None
    assert read_table(table([*grid_rows(), (0.0, 360.0, 20.0)])).grid is None
    assert read_table(table([(x, a, r if x > 20 and a else "") for x, a, r in grid_rows()])).grid is None
    assert read_table(table(grid_rows(4, 12))).grid is None


@pytest.mark.parametrize(
    ("rows", "head", "words"),
    [
        ([(0, 0, 20), (1, 0, "2o.5")], "x_mm,angle_deg,radius_mm", "row 3, column radius_mm: '2o.5'"),
        ([(0, 0, 20), (1, "inf", 20)], "x_mm,angle_deg,radius_mm", "row 3, column angle_deg: 'inf'"),
        ([(0, 0, 20), ("nan", 0, 20)], "x_mm,angle_deg,radius_mm", "row 3, column x_mm: 'nan'"),
        ([(0, 0, 20), ("", 0, 20)], "x_mm,angle_deg,radius_mm", "row 3, x_mm is empty"),
        ([(0, 0, 20), (1, "", 20)], "x_mm,angle_deg,radius_mm", "row 3, angle is empty"),
        ([(0, 0, 20), ("", "", ""), (1, 0, 0)], "x_mm,angle_deg,radius_mm", "row 4, radius is 0"),
        ([(20000, 0, 20)], "x_mm,angle_deg,radius_mm", "row 2, x_mm is 20000"),
        ([(0, 40000, 20)], "x_mm,angle_deg,radius_mm", "row 2, angle is 40000"),
        ([(0, 0, 20, -1)], "x_mm,angle_deg,radius_mm,sigma_mm", "row 2, sigma_mm is -1"),
        ([(0, 0, 20)], "x_mm,angle_deg,r", "lacks a column radius_mm or diameter_mm"),
        ([(0, 0, 20, 1)], "x_mm,angle_deg,angle_rad,radius_mm", "has both angle_deg and angle_rad"),
        ([(0, 0, 20, 1)], "x_mm,angle_deg,radius_mm,x_mm", "two columns are headed x_mm"),
        ([], "x_mm,angle_deg,radius_mm", "holds no readings"),
    ],
)
def test_broken_tables_are_refused_with_the_row_and_the_column(rows, head, words):
    with pytest.raises(BlankError) as caught:
        read_table(table(rows, head))
    assert words in caught.value.message and caught.value.hint and caught.value.where == "/asset"


def test_names_that_are_not_there_and_two_units_are_refused():
    data = table(grid_rows())
    for given, words in (
        ({"columns": {"x_mm": "Station"}}, "no column is headed Station"),
        ({"columns": {"height": "x_mm"}}, "no column is called height"),
    ):
        with pytest.raises(BlankError, match=words):
            read_table(data, **given)
    with pytest.raises(BlankError, match="stated in degrees and in radians"):
        read_table(table(grid_rows(), "x_mm,angle_rad,radius_mm"), angle_unit="deg")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"x" * (MOST_BYTES + 1), "too large"),
        (b"x_mm,angle_deg,radius_mm\n" + b"1,2,3\n" * (MOST_ROWS + 1), "too many rows"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (b'x_mm,angle_deg,radius_mm\n1,2,"' + b"3" * 200_000, "cannot be read as CSV"),
        (b"", "holds no readings"),
    ],
)
def test_what_is_no_table_or_too_much_is_refused(data, words):
    with pytest.raises(BlankError, match=words):
        read_table(data)
