"""What a file does to the process that reads it ends that process alone, and in a sentence."""

import os
import signal
import zipfile
from functools import partial

import pytest

from services_inventory import apart as module
from services_inventory.apart import Apart, apart
from services_inventory.intake.reading import UnreadableFile, open_table
from tests.services_inventory.intake import files

FAR = (
    '<row r="1"><c r="A1" t="inlineStr"><is><t>location id</t></is></c></row>'
    '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
)


def test_what_a_function_returns_or_raises_comes_back():
    assert apart(UnreadableFile, divmod, 7, 2) == (3, 1)
    with pytest.raises(UnreadableFile, match="empty"):
        apart(UnreadableFile, partial(_refuse, "It is empty."))


def _refuse(sentence: str):
    raise UnreadableFile(sentence)


@pytest.mark.parametrize(
    ("function", "words"),
    [
        (partial(int, "x"), "damaged inside"),
        (os.abort, "more than the .* of memory"),
        (partial(signal.raise_signal, signal.SIGSEGV), "more than the .* of memory"),
        (partial(bytearray, 1 << 44), "more than the .* of memory"),
        (partial(signal.raise_signal, signal.SIGPROF), "no end"),
        (partial(os._exit, 3), "broke off"),
    ],
)
def test_however_it_ends_a_sentence_says_so_and_the_next_question_is_answered(function, words):
    with Apart(UnreadableFile) as process:
        with pytest.raises(UnreadableFile, match=words):
            process.call(function)
        assert process.call(len, "abc") == 3


@pytest.mark.parametrize("pipe", ["stdin", "stdout"])
def test_answers_left_to_the_garbage_collector_blame_no_file(pipe, caplog):
    """It ends the pipes, the process and the answers of a cycle in any order."""
    process = Apart(UnreadableFile)
    process.keep(list, ["one", "two", "three"])
    answers = process.each("__iter__")
    assert next(answers) == "one"
    getattr(process._process, pipe).close()
    answers.close()
    process.close()
    assert caplog.text == ""


@pytest.mark.parametrize("ends", [signal.SIGKILL, signal.SIGTERM, None])
def test_a_process_that_somebody_else_ended_is_asked_once_more(tmp_path, ends):
    again = tmp_path / "again"
    assert apart(UnreadableFile, _ended_the_first_time, again, ends) == "answered"
    with pytest.raises(UnreadableFile, match="broke off"):
        apart(UnreadableFile, _ended_the_first_time, tmp_path / "no folder" / "x", ends)


def _ended_the_first_time(mark, ends):
    if mark.exists():
        return "answered"
    if mark.parent.exists():
        mark.touch()
    if ends is None:
        os._exit(0)
    return signal.raise_signal(ends)


def test_work_without_end_is_ended(monkeypatch):
    """The limit is counted in the process's own time, so a busy machine ends nothing early."""
    code = "import services_inventory.apart as a; a.SECONDS = 1; a.main()"
    started = module.subprocess.Popen
    monkeypatch.setattr(
        module.subprocess, "Popen", lambda args, **more: started([*args[:2], code], **more)
    )
    with pytest.raises(UnreadableFile, match="no end"):
        apart(UnreadableFile, pow, 7, 10**8)


def test_no_secret_goes_along(monkeypatch):
    monkeypatch.setenv("SECRET_KEY", "a secret")
    assert apart(UnreadableFile, os.getenv, "SECRET_KEY") is None


def test_a_table_is_read_again_and_left_in_the_middle(tmp_path):
    rows = [[f"L-{number}", "12 Mill St"] for number in range(5_000)]
    table = open_table(files.write_csv(tmp_path / "a.csv", rows, ["location id", "address"]))
    assert next(table.rows()) == (2, rows[0])
    assert [cells for _, cells in table.rows()] == rows
    first, second = table.rows(), table.rows()
    next(first)
    assert next(second)[0] == 2
    assert len(list(table.rows())) == len(rows)


def test_one_value_in_the_last_cell_of_a_sheet_is_refused_in_a_sentence(tmp_path):
    path = files.write_xlsx(tmp_path / "far.xlsx")
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    head, _, _ = parts[name].partition(b"<sheetData>")
    parts[name] = head + b"<sheetData>" + FAR.encode() + b"</sheetData></worksheet>"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content in parts.items():
            archive.writestr(part, content)
    assert path.stat().st_size < 10_000
    with pytest.raises(UnreadableFile, match="column XFD, near row 1,048,576"):
        open_table(path)


def test_a_geojson_of_another_encoding_is_refused_in_a_sentence(tmp_path):
    path = files.write_geojson(tmp_path / "a.geojson", [])
    feature = '{"type":"Feature","properties":{"address":"12 Caf\xe9 St"},"geometry":null}'
    text = f'{{"type":"FeatureCollection","features":[\n{feature}]}}'
    path.write_bytes(text.encode("latin-1"))
    with pytest.raises(UnreadableFile, match="not UTF-8.*Latin-1"):
        open_table(path)
