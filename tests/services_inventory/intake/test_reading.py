"""Opening uploaded files by what they hold; all files are constructed."""

import datetime
import tracemalloc

import openpyxl
import pytest
import xlsxwriter

from services_inventory.intake.reading import UnreadableFile, UnusableCell, open_table
from services_inventory.intake.reading.pieces import ROWS_TURNED_AT_ONCE, Few
from tests.services_inventory.intake import files


def _cells(table):
    return [cells for _, cells in table.rows()]


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_text_in_any_usual_layout(tmp_path, delimiter, encoding):
    rows = [[*files.ROWS[0][:1], "12 Cañon Dr, Apt 3", *files.ROWS[0][2:]], *files.ROWS[1:]]
    path = files.write_csv(tmp_path / "a.csv", rows, encoding=encoding, delimiter=delimiter)
    table = open_table(path)
    assert table.kind == "CSV"
    assert table.delimiter == delimiter
    assert table.header == files.HEADER
    assert _cells(table) == rows
    assert [number for number, _ in table.rows()] == [2, 3, 4]
    assert table.estimated_rows == 3


def test_text_that_is_not_utf8_says_how_it_was_read(tmp_path):
    rows = [["1", "12 Peña Ave"], ["2", "14 Señora Ct"]]
    table = open_table(
        files.write_csv(tmp_path / "a.csv", rows, ["id", "address"], encoding="cp1252")
    )
    assert table.encoding == "cp1252"
    assert "Windows-1252" in table.notes[0]


def test_fractions_of_an_inch_on_old_cards_are_windows_1252(tmp_path):
    """In Windows-1250 the sign of a half is a double accent, which no card has."""
    rows = [[str(n), text] for n, text in enumerate(["½ in", "café", "¾ in", "½ in", "1¼ in"])]
    table = open_table(files.write_csv(tmp_path / "a.csv", rows, ["id", "size"], encoding="cp1252"))
    assert [cells for _, cells in table.rows()] == rows
    assert _cells(table) == rows


def test_quoted_line_ends_and_separators_stay_in_their_cell(tmp_path):
    rows = [["1", "12 Main St,\nrear", 'the "old" card'], ["2", "14 Main St", ""]]
    table = open_table(files.write_csv(tmp_path / "a.csv", rows, ["id", "address", "notes"]))
    assert _cells(table) == rows
    assert [number for number, _ in table.rows()] == [2, 3]


def test_blank_rows_and_empty_cells_beyond_the_header_are_no_rows(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("id,address\n1,12 Main St,,\n,\n,,,,\n\n2,14 Main St\n")
    assert list(open_table(path).rows()) == [(2, ["1", "12 Main St"]), (6, ["2", "14 Main St"])]


def test_a_title_above_the_headings_is_passed_over_and_said(tmp_path):
    path = files.write_csv(tmp_path / "a.csv", above="Service lines of the town\r\n")
    table = open_table(path)
    assert table.header == files.HEADER
    assert next(table.rows())[0] == 3
    assert "above the headings" in table.notes[0]


def test_the_separator_line_that_spreadsheets_write_is_obeyed(tmp_path):
    path = files.write_csv(tmp_path / "a.csv", above="sep=;\r\n", delimiter=";")
    table = open_table(path)
    assert (table.delimiter, table.header) == (";", files.HEADER)
    assert _cells(table) == files.ROWS


def test_one_column_is_a_table_too(tmp_path):
    table = open_table(files.write_csv(tmp_path / "a.csv", [["L-1"], ["L-2"]], ["location id"]))
    assert (table.header, _cells(table)) == (["location id"], [["L-1"], ["L-2"]])


def test_rows_longer_and_shorter_than_the_header_come_as_they_are(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("id,address,notes\n1,12 Main St\n2,a,b,c\n3,x,y\n")
    assert [len(cells) for cells in _cells(open_table(path))] == [2, 4, 3]


def test_rows_come_by_column_as_they_are_written_whatever_is_equal_among_them(tmp_path):
    """Of few words, of many from the start, of many later on; and around rows of another width."""
    rows = [
        [f"L-{at}", ("lead", "", " lead")[at % 3], f"{at % (2 if at < 1_000 else 300)}", ""]
        for at in range(3_500)
    ]
    rows[2_234].append("beyond")
    rows[3_000].pop()
    table = open_table(
        files.write_csv(tmp_path / "a.csv", rows, ["id", "material", "size", "note"])
    )
    pieces = list(table.pieces())
    assert [row for piece in pieces for row in piece] == list(enumerate(rows, start=2))
    by_column = [piece.columns for piece in pieces if piece.columns]
    assert sum(len(columns[0]) for columns in by_column) == len(rows) - 2 * ROWS_TURNED_AT_ONCE
    assert all(isinstance(columns[1], Few) and len(columns[1].values) == 3 for columns in by_column)
    assert [isinstance(columns[2], Few) for columns in by_column][:2] == [True, False]
    hashes = [one for piece in pieces for one in piece.hashes()]
    assert hashes == [hash(tuple(cells)) for cells in rows]


def test_a_row_of_a_million_columns_is_one_bad_row(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("id,address\n1,12 Main St\n" + "x," * 1_000_000 + "x\n2,14 Main St\n")
    assert [len(cells) for cells in _cells(open_table(path))] == [2, 1_000_001, 2]


BAD_TEXT = {
    "empty": (b"", "The file is empty"),
    "blank": (b"\xef\xbb\xbf\r\n  \r\n", "The file is empty"),
    "header only": (b"id,address\n", "headings but no rows"),
    "header and blanks": (b"id,address\n,\n\n", "headings but no rows"),
    "duplicate headers": (b"id,Address,address ,notes\n1,a,b,c\n", "'Address', 'address'"),
    "nul": (b"id,address\n1,12 Main St\n2,14\x00 Main St\n", "NUL byte in line 3"),
    "million columns": (b"x," * 1_000_000 + b"x\n1\n", "1,000,001 columns"),
    "html": (b"<html><table><tr><td>1</td></tr></table></html>", "web page"),
    "xml": (b"<?xml version='1.0'?><rows/>", "XML"),
    "json": (b'{"rows": []}', "no GeoJSON"),
    "json list": (b"[1, 2]", "JSON list"),
    "pdf": (b"%PDF-1.7 ...", "PDF"),
    "long heading": (b"a" * 300 + b",b\n1,2\n", "300 characters long"),
    "utf-16 cut": ("id,ä\n1,2\n".encode("utf-16")[:-1], "can't be read as UTF-16"),
    "shp": (b"\x00\x00\x27\x0a" + bytes(100), "bare .shp"),
}


@pytest.mark.parametrize("case", BAD_TEXT)
@pytest.mark.parametrize("name", ["a.csv", "a.xlsx"])
def test_a_file_that_is_no_table_is_refused_with_a_sentence(tmp_path, case, name):
    content, words = BAD_TEXT[case]
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(UnreadableFile, match=words):
        open_table(path)


@pytest.mark.parametrize(
    ("write", "words"),
    [
        (files.write_png, "a picture"),
        (files.write_bomb, "would unpack"),
        (files.write_many_entries, "5,001 files"),
        (files.write_encrypted_workbook, "password"),
        (files.write_sqlite, "no GeoPackage"),
    ],
)
def test_files_of_another_kind_are_refused(tmp_path, write, words):
    with pytest.raises(UnreadableFile, match=words):
        open_table(write(tmp_path / "lines.csv"))


def test_a_quotation_mark_never_closed_is_named(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text('id,address\n1,12 Main St\n2,"14 Main St\n' + "3,16 Main St\n" * 100_000)
    with pytest.raises(UnreadableFile, match="row 3.*quotation mark"):
        list(open_table(path).rows())


def test_memory_stays_flat_for_text(tmp_path):
    path = files.write_csv(tmp_path / "a.csv", (files.ROWS[0] for _ in range(60_000)))
    table = open_table(path)
    tracemalloc.start()
    count = sum(1 for _ in table.rows())
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 60_000
    assert peak < 2_000_000


def test_workbook(tmp_path):
    rows = [
        ["L-1", "12 Main St", 41.9, datetime.date(2024, 5, 2)],
        [1002, "14 Main St", None, None],
    ]
    path = files.write_xlsx(tmp_path / "a.xlsx", rows, ["id", "address", "latitude", "seen on"])
    table = open_table(path)
    assert (table.kind, table.sheet) == ("XLSX", "Lines")
    assert list(table.rows()) == [
        (2, ["L-1", "12 Main St", 41.9, datetime.date(2024, 5, 2)]),
        (3, [1002.0, "14 Main St", "", ""]),
    ]


def test_workbook_named_csv_is_read_by_its_content(tmp_path):
    path = files.write_xlsx(tmp_path / "a.xlsx").rename(tmp_path / "a.csv")
    table = open_table(path)
    assert table.kind == "XLSX"
    assert "named" in table.notes[0] or "name ends" in table.notes[0]


def test_a_title_above_a_sheets_headings_is_passed_over(tmp_path):
    table = open_table(files.write_xlsx(tmp_path / "a.xlsx", title="Service lines"))
    assert table.header == files.HEADER
    assert next(table.rows())[0] == 4


def test_a_table_that_does_not_start_in_the_corner_keeps_its_row_numbers(tmp_path):
    workbook = openpyxl.Workbook()
    page = workbook.active
    for number, values in ((3, ("id", "address")), (4, ("L-1", "12 Main St")), (6, ("L-2", "14"))):
        for column, value in enumerate(values, start=3):
            page.cell(number, column, value)
    workbook.save(tmp_path / "a.xlsx")
    table = open_table(tmp_path / "a.xlsx")
    assert [heading for heading in table.header if not heading.startswith("column")] == [
        "id",
        "address",
    ]
    assert [number for number, _ in table.rows()] == [4, 6]


def test_a_named_sheet_is_read_and_a_missing_one_is_said(tmp_path):
    path = files.write_xlsx(tmp_path / "a.xlsx", others=["Cover", "Notes"])
    assert open_table(path).sheet == "Lines"
    assert open_table(path, sheet="lines").header == files.HEADER
    with pytest.raises(UnreadableFile, match="no sheet 'Taps'.*'Cover', 'Notes', 'Lines'"):
        open_table(path, sheet="Taps")
    with pytest.raises(UnreadableFile, match="no headings in the first rows of sheet 'Cover'"):
        open_table(path, sheet="Cover")


def test_a_hidden_first_sheet_is_passed_over(tmp_path):
    workbook = openpyxl.Workbook()
    workbook.active.append(["secret", "list"])
    workbook.active.sheet_state = "hidden"
    page = workbook.create_sheet("Lines")
    page.append(["id", "address"])
    page.append(["1", "12 Main St"])
    workbook.save(tmp_path / "a.xlsx")
    assert open_table(tmp_path / "a.xlsx").sheet == "Lines"


def test_workbook_without_rows(tmp_path):
    with pytest.raises(UnreadableFile, match="headings but no rows"):
        open_table(files.write_xlsx(tmp_path / "a.xlsx", rows=[]))


def test_duplicate_headings_in_a_workbook(tmp_path):
    path = files.write_xlsx(tmp_path / "a.xlsx", [["1", "2"]], ["Address", "ADDRESS"])
    with pytest.raises(UnreadableFile, match="'Address', 'ADDRESS'"):
        open_table(path)


def test_formula_cells(tmp_path):
    with xlsxwriter.Workbook(tmp_path / "a.xlsx") as workbook:
        page = workbook.add_worksheet("Lines")
        page.write_row(0, 0, ["id", "calculated", "without result", "error"])
        page.write(1, 0, "L-1")
        page.write_formula(1, 1, "=2*5", None, 10)
        page.write_formula(1, 2, "=2*5", None, "")
        page.write_formula(1, 3, "=1/0", None, "#DIV/0!")
    ((_, cells),) = open_table(tmp_path / "a.xlsx").rows()
    assert cells[:2] == ["L-1", 10.0]
    assert isinstance(cells[2], UnusableCell)
    assert "formula whose result is not in the file" in cells[2].why
    assert "#DIV/0!" in cells[3].why


def test_formulas_that_were_never_calculated(tmp_path):
    path = files.write_xlsx(
        tmp_path / "a.xlsx", [["L-1", "=A2+1"], ["L-2", "#N/A"]], ["id", "year"]
    )
    (_, first), (_, second) = open_table(path).rows()
    assert "result is not in the file" in first[1].why
    assert "#N/A" in second[1].why


def test_damaged_workbook(tmp_path):
    path = files.write_xlsx(tmp_path / "a.xlsx")
    path.write_bytes(path.read_bytes()[:-200])
    with pytest.raises(UnreadableFile, match="damaged"):
        open_table(path)


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:26915", "EPSG:3418"])
@pytest.mark.parametrize("kind", ["GEOPACKAGE", "GEOJSON", "SHAPEFILE", "PARQUET"])
def test_layers_in_any_reference_system_give_latitude_and_longitude(tmp_path, kind, crs):
    if kind == "GEOPACKAGE":
        path = files.write_layer(tmp_path / "lines.gpkg", "GPKG", crs=crs)
    elif kind == "GEOJSON":
        path = files.write_layer(tmp_path / "lines.json", "GeoJSON", crs=crs)
    elif kind == "SHAPEFILE":
        path = files.write_zipped_shapefile(tmp_path / "lines.zip", crs=crs)
    else:
        path = files.write_layer(tmp_path / "lines.parquet", "Parquet", crs=crs)
    table = open_table(path)
    assert table.kind == kind
    assert table.header[-2:] == ["geometry latitude", "geometry longitude"]
    assert table.estimated_rows == 3
    for (longitude, latitude), cells in zip(files.POINTS, _cells(table), strict=True):
        assert cells[-2:] == pytest.approx([latitude, longitude], abs=2e-6)
    assert _cells(table)[0][:2] == ["L-1", "12 N Main St"]


def test_uploads_lose_their_ending_and_are_still_read(tmp_path):
    for number, path in enumerate(
        [
            files.write_layer(tmp_path / "a.gpkg", "GPKG"),
            files.write_layer(tmp_path / "a.json", "GeoJSON"),
            files.write_zipped_shapefile(tmp_path / "a.zip"),
            files.write_layer(tmp_path / "a.parquet", "Parquet"),
            files.write_xlsx(tmp_path / "a.xlsx"),
        ]
    ):
        bare = path.rename(tmp_path / f"upload{number}")
        assert len(_cells(open_table(bare))) == 3


@pytest.mark.parametrize("kind", ["gpkg", "zip", "parquet"])
def test_a_missing_reference_system_is_said(tmp_path, kind):
    path = tmp_path / f"lines.{kind}"
    if kind == "zip":
        files.write_zipped_shapefile(path, leave_out=[".prj"])
    else:
        files.write_layer(path, {"gpkg": "GPKG", "parquet": "Parquet"}[kind], crs=None)
    with pytest.raises(UnreadableFile, match="coordinate reference system"):
        open_table(path)


def test_a_shapefile_without_its_table_is_said(tmp_path):
    path = files.write_zipped_shapefile(tmp_path / "lines.zip", leave_out=[".dbf"])
    with pytest.raises(UnreadableFile, match="lacks its .dbf"):
        open_table(path)


def test_several_layers_need_a_choice(tmp_path):
    path = files.write_zipped_shapefile(tmp_path / "lines.zip", names=("taps", "valves"))
    with pytest.raises(UnreadableFile, match="several layers: 'taps', 'valves'"):
        open_table(path)
    assert open_table(path, layer="valves").estimated_rows == 3
    with pytest.raises(UnreadableFile, match="no layer 'mains'"):
        open_table(path, layer="mains")


def test_rows_without_geometry_and_lines_with_it(tmp_path):
    line = {"type": "LineString", "coordinates": [[-91.6, 41.9], [-91.6, 41.902]]}
    features = [
        {"type": "Feature", "properties": {"id": "L-1"}, "geometry": None},
        {"type": "Feature", "properties": {"id": "L-2"}, "geometry": line},
    ]
    table = open_table(files.write_geojson(tmp_path / "a.geojson", features))
    first, second = _cells(table)
    assert first == ["L-1", None, None]
    assert second[1:] == pytest.approx([41.901, -91.6])


def test_a_polygon_that_crosses_itself_still_has_a_place(tmp_path):
    bow = [[-91.6, 41.9], [-91.5, 42.0], [-91.5, 41.9], [-91.6, 42.0], [-91.6, 41.9]]
    feature = {
        "type": "Feature",
        "properties": {"id": "L-1"},
        "geometry": {"type": "Polygon", "coordinates": [bow]},
    }
    ((_, cells),) = open_table(files.write_geojson(tmp_path / "a.geojson", [feature])).rows()
    assert cells[0] == "L-1"
    assert cells[1] is None or not isinstance(cells[1], float) or 41.9 <= cells[1] <= 42.0


@pytest.mark.parametrize("driver", ["GPKG", "GeoJSON", "Parquet"])
def test_damaged_layers_are_refused(tmp_path, driver):
    path = files.write_layer(tmp_path / "lines", driver)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    with pytest.raises(UnreadableFile):
        list(open_table(path).rows())


def test_every_sentence_ends_and_names_no_path(tmp_path):
    for name, (content, _) in BAD_TEXT.items():
        path = tmp_path / "a.csv"
        path.write_bytes(content)
        with pytest.raises(UnreadableFile) as refusal:
            open_table(path)
        assert str(refusal.value).endswith("."), name
        assert str(tmp_path) not in str(refusal.value), name


def _workbook(path, **sheets):
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        page = book.create_sheet(name)
        for row in rows:
            page.append(row)
    book.save(path)
    return path


def test_of_several_sheets_the_one_of_most_known_columns_is_read_and_all_are_told(tmp_path):
    rows = [["Account No", "Service Address", "Public Side"], ["1", "12 Alder St", "copper"]]
    words = [["copper", "lead"]] * 30
    path = _workbook(tmp_path / "b.xlsx", Cover=[["2030"], ["a", "b"]], Lines=rows, Lists=words)
    table = open_table(path)
    assert table.sheet == "Lines" and table.header == rows[0]
    assert table.sheets == [("Cover", 1), ("Lines", 1), ("Lists", 29)]
    assert open_table(path, sheet="Lists").sheet == "Lists"


def test_words_over_a_form_s_columns_tell_those_of_the_same_name_apart(tmp_path):
    over = ["", "System-Owned Portion", "", "Customer-Owned Portion", ""]
    below = ["Unique Service Line ID", "Material", "Service Line Size", "Material",
             "Service Line Size"]  # fmt: skip
    path = _workbook(tmp_path / "f.xlsx", Form=[["A form"], over, below, ["1", "a", 1, "b", 2]])
    table = open_table(path)
    assert table.header == [
        below[0], "System-Owned Portion Material", "System-Owned Portion Service Line Size",
        "Customer-Owned Portion Material", "Customer-Owned Portion Service Line Size",
    ]  # fmt: skip
    assert [number for number, _ in table.rows()] == [4]
