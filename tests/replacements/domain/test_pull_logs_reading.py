"""Reading a pull log: columns and units, encodings, damage, clocks and counters, nonsense."""

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fixtures.pull_logs import synthetic_log
from replacements.domain.pull_logs import Cylinder, PullLogError, columns_of, event_rules, read
from tests.examples import examples
from tests.replacements.logs_made import make_clean_log

HEADER = "Time (s),Load (lbf),Distance (ft)"
CYLINDER = Cylinder(bore_in=3.25, rod_in=1.5, efficiency=0.92)


def log_of(content, **how):
    content = content.encode() if isinstance(content, str) else content
    return read(io.BytesIO(content), **how)


def table(*lines, header=HEADER):
    return "\n".join([header, *lines]) + "\n"


def error_of(content, **how):
    with pytest.raises(PullLogError) as caught:
        log_of(content, **how)
    return str(caught.value)


PLAIN = table("0,800,0.0", "1,810,0.1", "2,820,0.2", "3,830,0.3")


class TestColumns:
    @pytest.mark.parametrize(
        ("header", "units"),
        [
            ("Time (s),Pressure (psi),Distance (ft)", ("s", "psi", "ft")),
            ("elapsed [min],Hyd. pressure [bar],Travel [m]", ("min", "bar", "m")),
            ("t_ms;Force_kN;Position_mm", ("ms", "kN", "mm")),
            ("Elapsed time s\tLoad cell kip\tPayout in", ("s", "kip", "in")),
            ("time_s,force_lbf,distance_ft", ("s", "lbf", "ft")),
            ("Seconds|Load in kN|Distance in feet", ("s", "kN", "ft")),
            ("Time (s),Gauge (kPa),Pulling distance (ft)", ("s", "kPa", "ft")),
            ("Time (s),Pressure (lb/in2),Length (ft)", ("s", "psi", "ft")),
            ("TimeSec,PressureMPa,DistanceFt", ("s", "MPa", "ft")),
        ],
    )
    def test_headers(self, header, units):
        separator = next(s for s in ";\t|," if s in header)
        body = "\n".join(separator.join(row) for row in (["0", "1", "0"], ["1", "1", "0.1"]))
        found = columns_of(io.BytesIO(f"{header}\n{body}\n".encode()))
        assert tuple(found[role].unit for role in ("time", "force", "distance")) == units
        assert not any(column.unit_assumed for column in found.values())

    def test_line_of_units_and_lines_before_the_header(self):
        text = "Logger 7\nBore,3.25\n\nTime,Load,Distance,Speed\ns,kN,m,m/min\n0,3,0,2\n1,4,0.1,2\n"
        log = log_of(text)
        assert dict(log.units) == {"time": "s", "force": "kN", "distance": "m"}
        assert log.force_lbf == pytest.approx([674.4, 899.2], abs=0.1)
        assert log.unused == ("Speed",)
        assert log.row.tolist() == [6, 7]

    def test_other_columns_are_not_mistaken(self):
        header = "Record,Oil temperature (F),Rate (ft/min),Time (s),Load (lbf),Distance (ft)"
        found = columns_of(
            io.BytesIO(table("1,90,6,0,800,0", "2,90,6,1,800,0.1", header=header).encode())
        )
        assert [found[r].index for r in ("time", "force", "distance")] == [3, 4, 5]

    def test_a_load_cell_is_preferred_to_the_gauge(self):
        header = "Time (s),Pressure (psi),Load (lbf),Distance (ft)"
        log = log_of(table("0,100,800,0", "1,100,801,0.1", header=header))
        assert log.columns["force"].header == "Load (lbf)"

    def test_no_unit_is_assumed_and_said(self):
        log = log_of(table("0,800,0", "1,810,0.1", header="time,force,distance"))
        assert log.columns["force"].unit_assumed
        assert "assumed" in log.columns["force"].guessed_from

    def test_told_wins(self):
        text = table("0,800,0,5", "1,810,0.1,6", header="Time (s),A,Distance (ft),B")
        log = log_of(text, columns={"force": ("B", "kN")})
        assert log.force_lbf[0] == pytest.approx(1124, abs=1)
        assert log_of(text, columns={"force": (1, "lbf")}).force_lbf[0] == 800

    def test_a_unit_alone_may_be_told(self):
        text = table("0,8,0.0", "1,9,0.1", "2,8,0.2", header="time,load,distance")
        found = columns_of(io.BytesIO(text.encode()), columns={"force": (None, "kN")})
        assert (found["force"].header, found["force"].unit) == ("load", "kN")

    def test_a_told_unit_settles_a_header_against_its_line_of_units(self):
        text = table("s,kN,ft", "0,8,0.0", "1,9,0.1", header="Time,Force (lbf),Distance")
        assert "mixes units" in error_of(text)
        log = log_of(text, columns={"force": (None, "kN")})
        assert log.peak_lbf == pytest.approx(9 * 224.809, rel=1e-4)

    def test_told_by_place_without_a_header(self):
        told = {"time": (0, "s"), "force": (1, "lbf"), "distance": (2, "ft")}
        assert len(log_of("0,800,0\n1,810,0.1\n", columns=told)) == 2
        assert "no header" in error_of("0,800,0\n1,810,0.1\n")

    @pytest.mark.parametrize(
        ("told", "word"),
        [
            ({"force": "Torque"}, "no column 'Torque'"),
            ({"force": ("Load (lbf)", "gallons")}, "no unit"),
            ({"speed": "Load (lbf)"}, "role"),
            ({"force": ("Distance (ft)", "lbf")}, "two things"),
        ],
    )
    def test_told_wrongly(self, told, word):
        assert word in error_of(PLAIN, columns=told)

    def test_missing_column(self):
        said = error_of(table("0,800", "1,810", header="Time (s),Load (lbf)"))
        assert "no distance column" in said
        assert "'Load (lbf)'" in said


class TestForms:
    @pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
    def test_encodings(self, encoding):
        text = PLAIN.replace("Load", "Löad force") if encoding != "utf-16-le" else PLAIN
        assert len(log_of(text.encode(encoding))) == 4

    @pytest.mark.parametrize("ending", ["\r\n", "\r", "\n"])
    def test_line_ends(self, ending):
        assert len(log_of(PLAIN.replace("\n", ending))) == 4

    def test_decimal_comma(self):
        header = "Time (s);Pressure (bar);Distance (m)"
        text = table("0,0;24,5;0,00", "0,5;25,0;0,05", header=header)
        log = log_of(text, cylinder=CYLINDER)
        assert log.force_lbf[0] == pytest.approx(24.5 * 14.5038 * 6.0065, rel=1e-4)
        assert log.distance_ft[1] == pytest.approx(0.164, abs=0.001)

    def test_decimal_comma_between_commas_cannot_be_told(self):
        assert "semicolons" in error_of(table("0,0,800,5,0,1", "1,0,801,5,0,2"))

    def test_thousands_or_decimals_is_asked(self):
        text = table("0;1,081;0", "1;1,082;1", header=HEADER.replace(",", ";"))
        assert "thousands" in error_of(text)

    def test_grouped_thousands_in_quotes(self):
        assert log_of(table('0,"1,081.5",0', '1,"1,082.5",0.1')).force_lbf[0] == 1081.5

    @pytest.mark.parametrize(
        "times",
        [
            ("2026-05-04T09:00:00Z", "2026-05-04T09:00:00.500Z", "2026-05-04T09:00:01Z"),
            ("2026-05-04 09:00:00", "2026-05-04 09:00:00.5", "2026-05-04 09:00:01"),
            ("2026-05-04T09:00:00-04:00", "2026-05-04T09:00:00.5-04:00", "2026-05-04T13:00:01Z"),
            ("05/04/2026 11:59:59 AM", "05/04/2026 11:59:59.5 AM", "05/04/2026 12:00:00 PM"),
            ("09:00:00", "09:00:00.5", "09:00:01"),
            ("23:59:59.5", "00:00:00", "00:00:00.5"),
            ("00:00", "00:00.5", "00:01"),
        ],
    )
    def test_times(self, times):
        rows = [f"{time},800,{i / 10}" for i, time in enumerate(times)]
        log = log_of(table(*rows, header="Time,Load (lbf),Distance (ft)"))
        assert log.time_s == pytest.approx([0, 0.5, 1.0])

    def test_units_in_the_cells(self):
        rows = ("0 s,12 kN,0 m", "1 s,13 kN,0.1 m")
        log = log_of(table(*rows, header="Time,Load,Distance"))
        assert log.force_lbf[0] == pytest.approx(2697.7, abs=0.1)
        assert not log.columns["force"].unit_assumed

    def test_path_and_hash(self, tmp_path):
        import hashlib

        path = tmp_path / "pull.csv"
        path.write_text(PLAIN)
        assert read(path).sha256 == hashlib.sha256(PLAIN.encode()).hexdigest()
        with pytest.raises(PullLogError, match="cannot be opened"):
            read(tmp_path / "none.csv")


class TestRefusals:
    def test_mixed_units_name_the_row(self):
        said = error_of(table("0,240 lbf,0", "1,25 kN,0.1", "2,26 kN,0.2"))
        assert "Row 3" in said
        assert "25 kN" in said

    def test_units_line_against_header(self):
        text = "Time (s),Pressure (bar),Distance (ft)\ns,psi,ft\n0,240,0\n1,241,0.1\n"
        assert "mixes units" in error_of(text, cylinder=CYLINDER)

    def test_psi_in_a_bar_column(self):
        text = table("0,240,0", "1,2540,0.1", header="Time (s),Pressure (bar),Distance (ft)")
        said = error_of(text, cylinder=CYLINDER)
        assert "Row 3" in said
        assert "read as bar" in said

    def test_pressure_in_a_force_column_of_kilonewtons(self):
        text = table("0,1081,0", "1,2162,0.1", header="Time (s),Load (kN),Distance (ft)")
        assert "another unit" in error_of(text)

    def test_pressure_needs_the_cylinder(self):
        text = table("0,240,0", "1,241,0.1", header="Time (s),Pressure (psi),Distance (ft)")
        assert "bore" in error_of(text)
        assert "measures" in error_of(text, cylinder=Cylinder(1.5, 3.25))

    @pytest.mark.parametrize(
        ("content", "word"),
        [
            (b"", "empty"),
            (b"\0\0\0\0", "empty"),
            (b"  \r\n\r\n", "empty"),
            (b"PK\x03\x04" + b"x" * 50, "spreadsheet"),
            (b"\xd0\xcf\x11\xe0" + b"x" * 50, "spreadsheet"),
            (b"\x1f\x8b" + b"x" * 50, "compressed"),
            (b"<!DOCTYPE html><html><table>", "web page"),
            (b"%PDF-1.7 ...", "PDF"),
            (bytes(range(1, 256)) * 4, "not"),
            (b"one column\n1\n2\n3\n", "no columns"),
            (b"Time (s),Load (lbf),Distance (ft)\n", "No row of numbers"),
            (b"Time (s),Load (lbf),Distance (ft)\n0,800,0\n", "at least two"),
            (b"a,b,c\nx,y,z\nx,y,z\n", "No row of numbers"),
        ],
    )
    def test_not_a_log(self, content, word):
        assert word in error_of(content)

    def test_size_is_checked_before_reading(self, tmp_path):
        path = tmp_path / "huge.csv"
        with path.open("wb") as handle:
            handle.truncate(2 * 2**30)
        with pytest.raises(PullLogError, match="too big"):
            read(path)
        assert "too big" in error_of(PLAIN, size_limit_bytes=10)

    def test_negative_readings(self):
        few = table("0,800,0", "1,-5,0.1", *(f"{i},800,{i / 10}" for i in range(2, 12)))
        log = log_of(few)
        assert (len(log), log.set_aside, log.note("NEGATIVE").first_row) == (11, 1, 3)
        many = table("0,-800,0", "1,-5,0.1", "2,800,0.2")
        assert "negative force" in error_of(many)

    def test_time_that_runs_backwards(self):
        rows = [f"{t},800,{i / 10}" for i, t in enumerate([0, 5, 1, 6, 2, 7, 3, 8, 4, 9, 5])]
        said = error_of(table(*rows))
        assert "runs backwards" in said
        assert "row 4" in said

    def test_counter_set_back_in_mid_pull(self):
        rows = [f"{t},800,{x}" for t, x in enumerate([30, 30.1, 30.2, 0, 0.1, 0.2])]
        said = error_of(table(*rows))
        assert "row 5" in said
        assert "set back" in said

    def test_a_log_of_weeks(self):
        rows = [f"{i * 5},800,{i / 10}" for i in range(200)]
        said = error_of(table(*rows, header=HEADER.replace("(s)", "(h)")))
        assert "days" in said
        assert "read as h" in said

    def test_unreadable(self):
        rows = ["0,800,0", "1,801,0.1"] + ["x,y,z"] * 5
        said = error_of(table(*rows))
        assert "5 of 7 rows" in said
        assert "row 4" in said


class TestCleaning:
    def test_every_row_is_accounted_for(self):
        damaged = table(
            *(f"{i},800,{i / 10}" for i in range(10)),
            "10,,1.0",
            "11,\0\0801,1.1",
            HEADER,
            "12,800",
            "13,n/a,1.3",
            "14,inf,1.4",
            "15,800,1.5",
            "15,800,1.5",
            "",
            "16,800,1.6",
        )
        log = log_of(damaged)
        assert log.raw_count == 19
        assert len(log) == 12
        assert sum(note.count for note in log.notes if note.kind != "GAP") == log.set_aside == 7
        assert log.note("DAMAGED").first_row == 13
        assert log.row[-1] == 21

    def test_damage_right_below_the_header(self):
        log = log_of(table("x,,1", "a,b,c", "2,800,0", "3,801,0.1"))
        assert (len(log), log.raw_count, log.set_aside) == (2, 4, 2)
        assert log.row.tolist() == [4, 5]

    def test_clock_set_back_once(self):
        rows = [f"{t},800,{i / 10}" for i, t in enumerate([100, 101, 102, 40, 41, 42])]
        log = log_of(table(*rows))
        assert log.time_s == pytest.approx([0, 1, 2, 3, 4, 5])
        assert log.note("CLOCK_JUMP").first_row == 5

    def test_clock_leaps_ahead(self):
        rows = [f"{t},800,{i / 10}" for i, t in enumerate([0, 1, 2, 9e8, 9e8 + 1])]
        assert log_of(table(*rows)).time_s == pytest.approx([0, 1, 2, 3, 4])

    def test_gap(self):
        rows = [f"{t},800,{i / 10}" for i, t in enumerate([0, 1, 2, 3, 24, 25, 26])]
        log = log_of(table(*rows))
        assert log.note("GAP").count == 1
        assert log.missing_share == pytest.approx(20 / 27)

    def test_coarse_clock(self):
        rows = [f"{i // 4},{800 + i},{i / 40}" for i in range(40)]
        log = log_of(table(*rows))
        assert np.diff(log.time_s) == pytest.approx(0.25)
        assert log.note("COARSE_CLOCK")

    def test_newest_first(self):
        rows = [f"{i},{800 + i},{i / 10}" for i in reversed(range(20))]
        log = log_of(table(*rows))
        assert log.force_lbf[0] == 800
        assert log.row[0] == 21

    def test_counter_that_runs_down(self):
        rows = [f"{i},800,{35 - i / 10}" for i in range(100)]
        log = log_of(table(*rows))
        assert (log.distance_ft[0], log.distance_ft[-1]) == pytest.approx((0, 9.9))
        assert log.note("COUNTS_DOWN")

    def test_counter_faults_are_set_aside(self):
        x = [i / 10 for i in range(100)]
        x[40], x[60], x[61], x[62] = 999.0, 0.0, 0.0, 0.0
        log = log_of(table(*(f"{i},800,{v}" for i, v in enumerate(x))))
        assert log.distance_ft.max() == pytest.approx(9.9)
        assert log.set_aside == 4

    def test_shaking_counter_never_runs_back(self):
        x = [i / 10 - (0.05 if i % 7 == 3 else 0) for i in range(50)]
        log = log_of(table(*(f"{i},800,{v}" for i, v in enumerate(x))))
        assert (np.diff(log.distance_ft) >= 0).all()
        assert log.set_aside == 0

    def test_wound_back_after_the_pull(self):
        rows = [f"{i},800,{i / 10}" for i in range(50)] + ["50,10,4.9", "51,10,1.0", "52,10,0.0"]
        log = log_of(table(*rows))
        assert log.distance_ft[-1] == pytest.approx(4.9)
        assert log.note("AFTER_THE_PULL").count == 2

    def test_both_ways_of_reading_agree(self):
        text = make_clean_log()
        fast = log_of(text)
        careful = log_of(text.replace("\n", "\n\n", 1))
        assert np.array_equal(fast.force_lbf, careful.force_lbf)
        assert np.array_equal(fast.time_s, careful.time_s)
        assert (careful.row == fast.row + 1).all()


@examples(200)
@given(st.binary(max_size=400))
def test_arbitrary_bytes(content):
    try:
        assert len(log_of(content)) >= 2
    except PullLogError as error:
        assert str(error).strip()


CELLS = st.one_of(
    st.floats().map(str),
    st.integers(-5, 10**12).map(str),
    st.sampled_from(["", "1,5", "12 kN", "3 psi", "09:00:01", "2026-05-04T09:00:00Z", "\0", '"']),
    st.sampled_from(["29/02/2027 09:00", "0001-01-01T00:00:00+23:59", "9e999", "nan", "٣", "1_0"]),
)


@examples(300)
@given(
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from([HEADER, "Time,Pressure (bar),Distance (m)", "Timestamp,Load,Dist", "a,b,c"]),
    st.lists(st.lists(CELLS, min_size=1, max_size=4), max_size=12),
)
def test_arbitrary_tables(separator, header, rows):
    text = "\n".join([header.replace(",", separator), *(separator.join(row) for row in rows)])
    try:
        log = log_of(text.encode("utf-8", "replace"), cylinder=CYLINDER)
    except PullLogError as error:
        assert str(error).strip()
        return
    assert len(log) >= 2
    assert np.isfinite(log.force_lbf).all()
    assert (log.force_lbf >= 0).all()
    assert (np.diff(log.time_s) >= 0).all()
    assert (np.diff(log.distance_ft) >= 0).all()
    assert len(log) <= log.raw_count


@examples(60)
@given(st.lists(st.integers(1, 300), max_size=8), st.integers(1, 300), st.floats(0, 3600))
def test_duplicates_and_gaps_never_change_the_peak(repeated, at, gap_s):
    lines = synthetic_log(20, bumps=(), seed=4).splitlines()
    header, body = lines[0], lines[1:]
    peak = log_of("\n".join(lines)).peak_lbf
    shifted = [row.split(",", 1) for row in body]
    moved = [
        f"{float(t) + (gap_s if i >= at else 0):.3f},{rest}" for i, (t, rest) in enumerate(shifted)
    ]
    rows = [row for i, row in enumerate(moved) for _ in range(2 if i in repeated else 1)]
    assert log_of("\n".join([header, *rows])).peak_lbf == peak


def test_thresholds_stay_in_their_range():
    assert event_rules({"stall_s": 20}, by="Utility")["stall_s"] == 20
    with pytest.raises(PullLogError, match="from 5 to 60"):
        event_rules({"stall_s": 600})
    with pytest.raises(PullLogError, match="no threshold"):
        event_rules({"stall": 20})
