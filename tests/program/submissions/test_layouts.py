"""Layouts: what ships loads, what is wrong is named."""

import csv

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.submissions.flat_files import write_list
from program.submissions.layouts import (
    FOLDER,
    STANDARD,
    Layout,
    LayoutError,
    SheetLayout,
    layout_in_full,
    layout_text,
    load_layout,
    parse_layout,
    shipped_layouts,
)
from program.submissions.tables import CODES, SHEETS
from services_inventory.domain.addresses import normalize

from .factories import line

ABOUT = '[layout]\nid = "x"\nname = "X"\n'
LINES = '[sheets.lines.columns]\nlocation_id = "Id"\ncategory = "Cat"\nconnector = "Conn"\n'
WORDS = '[codes.category]\nLEAD = "L"\nGRR = "G"\nUNKNOWN = "U"\nNON_LEAD = "N"\n'


def test_three_examples_ship_and_each_says_that_it_is_invented():
    assert len(shipped_layouts()) == 4
    assert len({layout.id for layout in shipped_layouts()}) == 4
    for path in FOLDER.glob("*.toml"):
        assert "Invented example" in path.read_text(encoding="utf-8")


def test_order_headings_and_words_are_the_files_own():
    layout = parse_layout(ABOUT + LINES + WORDS)
    columns = layout.columns("lines")
    assert [(c.key, c.heading) for c in columns] == [
        ("location_id", "Id"),
        ("category", "Cat"),
        ("connector", "Conn"),
    ]
    assert layout.word(columns[1], "GRR") == "G"
    assert layout.word(columns[2], "LEAD") == "LEAD"
    assert layout.positions("lines") == (0, 5, 18)
    assert layout.columns("changes") == STANDARD.columns("changes")


@pytest.mark.parametrize("layout", shipped_layouts(), ids=lambda layout: layout.id)
def test_what_is_written_reads_back_equal(tmp_path, layout):
    (tmp_path / "a.toml").write_text(layout_text(layout), encoding="utf-8")
    assert load_layout(tmp_path / "a.toml") == layout


@given(st.text(min_size=1, max_size=190).filter(lambda t: t.isprintable() and t.strip()))
def test_any_printable_heading_survives(heading):
    columns = (("location_id", heading), ("category", heading + "2"), ("connector", "3" + heading))
    layout = Layout("x", "X", sheets={"lines": SheetLayout("Lines", columns)})
    assert parse_layout(layout_text(layout)) == layout


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("[layout", "test.toml is not valid TOML"),
        ("", "The part [layout] with id and name is missing."),
        ('[layout]\nid = "x"\n', "[layout] needs a text 'name'."),
        (ABOUT + 'dates = "UK"\n', 'write "ISO" or "US"'),
        (ABOUT + "[sheet.lines]\n", "The part 'sheet' is not known. Did you mean sheets?"),
        (ABOUT + "[sheets.line]\n", "The sheet 'line' is not known. Did you mean lines?"),
        (
            ABOUT + LINES + 'adress = "A"\n',
            "The column 'adress' of [sheets.lines.columns] is not known. Did you mean address?",
        ),
        (
            ABOUT + LINES + 'address = "cat "\n',
            "The heading 'cat' stands over category and address of [sheets.lines].",
        ),
        (ABOUT + LINES + 'category = "C2"\n', "A key stands there twice."),
        (
            ABOUT + '[sheets.lines.columns]\nlocation_id = "Id"\nconnector = "C"\n',
            "[sheets.lines.columns] lacks 'category': the totals are recounted from it.",
        ),
        (ABOUT + WORDS.replace('GRR = "G"\n', ""), "[codes.category] has no word for GRR."),
        (
            ABOUT + WORDS.replace("GRR", "GAL"),
            "The code 'GAL' of [codes.category] is not known.",
        ),
        (ABOUT + WORDS.replace('"G"', '"l"'), "gives the word 'l' to two codes"),
        (ABOUT + WORDS.replace('"G"', "7"), "The word for GRR in [codes.category] must be a text."),
        (ABOUT + WORDS.replace('"U"', '"?"'), "a spreadsheet's count would take it for a pattern"),
        (ABOUT + "[codes.color]\n", "The set of codes 'color' is not known."),
        (ABOUT + '[sheets.lines]\nname = "a/b"\n', "a character that a sheet's name must not"),
        (ABOUT + f'[sheets.lines]\nname = "{"n" * 28}"\n', "has 28 characters"),
        (ABOUT + '[sheets.lines]\nname = "Summary"\n', "Two sheets are called 'summary'"),
        (ABOUT + '[sheets.lines]\nname = "Changes"\n', "Two sheets are called 'changes'"),
        (ABOUT + '[sheets.lines]\nname = "history"\n', "kept by spreadsheets"),
        (ABOUT + "[sheets]\nlines = 3\n", "'sheets.lines' must be a table"),
        (ABOUT + "[sheets.lines]\ncolumns = 3\n", "must list at least one column"),
    ],
)
def test_a_fault_is_named(text, sentence):
    with pytest.raises(LayoutError) as error:
        parse_layout(text, name="test.toml")
    assert sentence in str(error.value)


def test_every_fault_is_named_at_once():
    text = ABOUT + LINES + 'adress = "A"\nlattitude = "B"\n' + WORDS.replace('GRR = "G"\n', "")
    with pytest.raises(LayoutError) as error:
        parse_layout(text)
    for word in ("adress", "lattitude", "GRR"):
        assert word in str(error.value)


@pytest.mark.parametrize("content", [b"\xff\xfe[\x00", "caf\u00e9 = 1".encode("cp1252")])
def test_a_file_that_is_not_utf8_is_a_sentence(tmp_path, content):
    (tmp_path / "a.toml").write_bytes(content)
    with pytest.raises(LayoutError, match="a.toml is not UTF-8 text"):
        load_layout(tmp_path / "a.toml")


def test_a_missing_file_is_a_sentence(tmp_path):
    with pytest.raises(LayoutError, match="gone.toml cannot be read"):
        load_layout(tmp_path / "gone.toml")


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        (ABOUT + LINES + 'adress = "A"\n', 8, 1),
        (ABOUT + LINES + '  address = "cat"\n', 8, 3),
        (ABOUT + "[sheets.line]\n", 4, 2),
        (ABOUT + WORDS.replace('"G"', '"l"'), 6, 1),
        (ABOUT + WORDS.replace('GRR = "G"\n', ""), 4, 2),
        ('sheets.lines.name = "Summary"\n' + ABOUT, 1, 1),
        (ABOUT + "dates = [1]\n", 4, 1),
        ('[layout]\nname = "X"\nid = "X Y"\n', 3, 1),
        ('[layout]\nid = "x"\nname = """\n[sheets]\n"""\n[sheet]\n', 6, 2),
        ("[layout]\nid = x\n", 2, 6),
    ],
)
def test_a_fault_says_its_line_and_column(text, line, column):
    with pytest.raises(LayoutError) as error:
        parse_layout(text)
    places = {(fault.line, fault.column) for fault in error.value.faults}
    assert (line, column) in places
    assert f"Line {line}, column {column}: " in str(error.value)


@pytest.mark.parametrize("layout", shipped_layouts(), ids=lambda layout: layout.id)
def test_a_layout_in_full_writes_every_column_and_means_the_same(layout):
    full = layout_in_full(layout)
    assert set(full.sheets) == set(SHEETS)
    assert parse_layout(layout_text(full)) == full
    for key, sheet in SHEETS.items():
        assert full.columns(key) == layout.columns(key)
        for column in full.columns(key):
            assert [full.word(column, c) for c in CODES.get(column.codes, ())] == [
                layout.word(column, c) for c in CODES.get(column.codes, ())
            ]
        assert len(full.columns(key)) <= len(sheet.columns)


ADDED = (
    ABOUT + LINES + 'house_number = "No."\nstreet = "Street"\nunit = "Unit"\nstate = "State"\n'
    '[sheets.lines.constants]\nstate = "=ZZ"\n'
)


def test_an_address_is_split_and_a_constant_stands_on_every_row(tmp_path):
    layout = parse_layout(ADDED)
    assert parse_layout(layout_text(layout)) == layout == parse_layout(layout_text(layout))
    assert layout_in_full(layout).columns("lines") == layout.columns("lines")
    rows = [
        line(1, address="12 1/2 N. Main Street Apt 3"),
        line(2, address="12-14 Main St"),
        line(3, address="Pump house behind the mill"),
        line(4, address=""),
    ]
    write_list(tmp_path / "a.csv", "lines", rows, layout=layout)
    with open(tmp_path / "a.csv", encoding="utf-8", newline="") as file:
        head, *written = csv.reader(file)
    assert head == ["Id", "Cat", "Conn", "No.", "Street", "Unit", "State"]
    parts = [normalize(row.address) for row in rows[:2]]
    assert [row[3:] for row in written[:2]] == [
        ["12 1/2", parts[0].street, parts[0].unit, "'=ZZ"],
        ["12-14", parts[1].street, "", "'=ZZ"],
    ]
    assert parts[0].unit and parts[0].street == "N MAIN ST"
    assert written[2][3:] == ["", "Pump house behind the mill", "", "'=ZZ"]
    assert written[3][3:] == ["", "", "", "'=ZZ"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (ADDED.replace('state = "=ZZ"', 'state = ""'), "The value of 'state' in"),
        (ADDED.replace('state = "=ZZ"', "state = 7"), "must be a text of one line"),
        (ADDED.replace('state = "State"\n', ""), "The constant 'state' stands in no column."),
        (ADDED.replace('state = "=ZZ"', 'unit = "1"'), "'unit' is a column of the record"),
        (ADDED.replace('state = "=ZZ"', ""), "The column 'state' of [sheets.lines.columns] is not"),
        (
            ABOUT + '[sheets.values.columns]\nid = "Id"\nhouse_number = "No."\n',
            "The column 'house_number' of [sheets.values.columns] is not known.",
        ),
    ],
)
def test_a_wrong_constant_or_part_is_named_with_its_line(text, sentence):
    with pytest.raises(LayoutError) as error:
        parse_layout(text)
    assert sentence in str(error.value)
    assert any(fault.line for fault in error.value.faults)
