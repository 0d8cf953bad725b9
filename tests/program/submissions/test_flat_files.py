"""CSV, JSON and JSON lines, read back and held against the published schema."""

import csv
import json

import pytest
from jsonschema import Draft202012Validator

from program.submissions import flat_files
from program.submissions.cell_text import APOSTROPHE_NOTE
from program.submissions.layouts import LayoutError, shipped_layouts
from program.submissions.schema import build_schema

from .factories import facts, line, lists, town

SCHEMA = build_schema()


def read_csv(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


class TestCsv:
    def test_holds_every_line_in_utf8(self, tmp_path):
        lines = [line(1, address="4 Élan Straße 🚰"), line(2, address='5 "Old", Road')]
        filed = flat_files.write_csv(tmp_path / "a.csv", facts(lines), lines)
        rows = read_csv(filed.path)
        assert [row["Address"] for row in rows] == ["4 Élan Straße 🚰", '5 "Old", Road']
        assert rows[0]["Category since"] == "2029-05-04"
        assert rows[0]["Latitude"] == "40.0001"
        assert rows[0]["Customer side seen on"] == ""
        assert filed.rows == {"lines": 2}

    @pytest.mark.parametrize(
        ("recorded", "written"),
        [
            ('=HYPERLINK("x")', '\'=HYPERLINK("x")'),
            ("+1", "'+1"),
            ("-1", "'-1"),
            ("@A", "'@A"),
            ("\tx", "' x"),
            ("\rx", "' x"),
            (" =1", "' =1"),
            ("\uff1d1+1", "'\uff1d1+1"),
            ("12-B Main", "12-B Main"),
            ("'quoted'", "'quoted'"),
            ("#4 Main", "#4 Main"),
        ],
    )
    def test_text_that_could_run_stands_behind_an_apostrophe(self, tmp_path, recorded, written):
        lines = [line(1, address=recorded)]
        filed = flat_files.write_csv(tmp_path / "a.csv", facts(lines), lines)
        assert read_csv(filed.path)[0]["Address"] == written
        assert "apostrophe" in APOSTROPHE_NOTE

    def test_a_western_longitude_stays_a_number(self, tmp_path):
        filed = flat_files.write_csv(tmp_path / "a.csv", facts([line(1)]), [line(1)])
        assert read_csv(filed.path)[0]["Longitude"] == "-80.0001"

    def test_control_characters_go_and_one_record_stays_one_row(self, tmp_path):
        lines = [line(1, address="1 A\nB\x00"), line(2)]
        filed = flat_files.write_csv(tmp_path / "a.csv", facts(lines), lines)
        assert filed.path.read_bytes().count(b"\n") == 3
        assert filed.notes == ("CSV row 2, Address: 1 control characters were left out.",)

    def test_a_layout_gives_headings_words_and_dates(self, tmp_path):
        layout = next(one for one in shipped_layouts() if one.id == "narrow_list")
        lines = [line(1, category="GRR")]
        filed = flat_files.write_csv(tmp_path / "a.csv", facts(lines), lines, layout=layout)
        row = read_csv(filed.path)[0]
        assert list(row)[:3] == ["Line number", "Where", "Finding for whole line"]
        assert row["Finding for whole line"] == "Galvanized, to be replaced"
        assert row["Finding since"] == "05/04/2029"

    def test_a_code_without_a_word_is_named_with_its_row(self, tmp_path):
        layout = next(one for one in shipped_layouts() if one.id == "letter_codes")
        lines = [line(1), line(2, connector="GOOSE")]
        with pytest.raises(LayoutError, match="CSV row 3, CONN: .*'GOOSE'"):
            flat_files.write_csv(tmp_path / "a.csv", facts(lines), lines, layout=layout)
        assert list(tmp_path.iterdir()) == []


class TestJson:
    @pytest.fixture
    def document(self, tmp_path):
        rows = town()
        csv_file = flat_files.write_csv(tmp_path / "a.csv", facts(*rows), rows[0])
        filed = flat_files.write_json(
            tmp_path / "a.json", facts(*rows), lists(*rows), files={"csv": csv_file}
        )
        return json.loads(filed.path.read_text(encoding="utf-8"))

    def test_the_schema_is_one(self):
        Draft202012Validator.check_schema(SCHEMA)

    def test_the_document_follows_it(self, document):
        validator = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)
        assert list(validator.iter_errors(document)) == []

    def test_the_schema_refuses_what_is_wrong(self, document):
        validator = Draft202012Validator(SCHEMA)
        document["replacements"][0]["category_before"] = "PB"
        document["summary"][0]["value"] = -1
        document["files"]["csv"]["sha256"] = "short"
        document["surprise"] = 1
        assert len(list(validator.iter_errors(document))) == 4

    def test_rates_are_exact(self, document):
        rate = next(entry for entry in document["summary"] if entry["code"] == "B10")
        assert rate["value"]["numerator"] == "1"
        assert rate["value"]["denominator"] == "150"

    def test_each_line_of_the_line_list_follows_it(self, tmp_path):
        rows = town()
        filed = flat_files.write_lines_json(tmp_path / "a.jsonl", facts(*rows), rows[0])
        schema = {"$ref": "#/$defs/line", "$defs": SCHEMA["$defs"]}
        validator = Draft202012Validator(schema)
        lines = filed.path.read_text(encoding="utf-8").splitlines()
        assert len(lines) == 60
        for text in lines:
            assert list(validator.iter_errors(json.loads(text))) == []
        assert "latitude" not in json.loads(lines[7])

    def test_control_characters_and_lone_surrogates_do_not_reach_the_file(self, tmp_path):
        said = facts([], system_name="A\x00B\ud800", open_questions=("one\ttwo",))
        filed = flat_files.write_json(tmp_path / "a.json", said, lists())
        document = json.loads(filed.path.read_text(encoding="utf-8"))
        assert document["system_name"] == "AB"
        assert document["open_questions"] == ["one two"]

    def test_the_same_input_gives_the_same_bytes(self, tmp_path):
        rows = town()
        hashes = {
            flat_files.write_json(tmp_path / name, facts(*rows), lists(*rows)).sha256
            for name in ("a.json", "b.json")
        }
        assert len(hashes) == 1


def test_results_for_machines_say_counts_and_files(tmp_path):
    rows = town()
    filed = flat_files.write_csv(tmp_path / "a.csv", facts(*rows), rows[0])
    said = flat_files.results(facts(*rows), {"csv": filed})
    assert said["counts"] == {"LEAD": 12, "GRR": 12, "UNKNOWN": 12, "NON_LEAD": 24, "total": 60}
    assert said["files"] == {"csv": str(tmp_path / "a.csv")}
    assert json.loads(json.dumps(said)) == said
