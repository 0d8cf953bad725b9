"""All files as one ZIP, streamed."""

import hashlib
import io
import zipfile

from program.submissions.archive import zip_stream


def test_the_files_come_out_as_they_are(tmp_path):
    (tmp_path / "a.bin").write_bytes(b"\x00" * 3_000_000 + b"end")
    (tmp_path / "b.csv").write_text("x\n", encoding="utf-8")
    paths = [tmp_path / "a.bin", tmp_path / "b.csv"]
    blocks = list(zip_stream(paths, [("note.txt", "Ñ")]))
    assert len(blocks) > 3  # it streams
    archive = zipfile.ZipFile(io.BytesIO(b"".join(blocks)))
    assert archive.testzip() is None
    assert archive.namelist() == ["a.bin", "b.csv", "note.txt"]
    for path in paths:
        inside = hashlib.sha256(archive.read(path.name)).digest()
        assert inside == hashlib.sha256(path.read_bytes()).digest()
    assert archive.read("note.txt").decode() == "Ñ"


def test_the_same_files_give_the_same_bytes(tmp_path):
    (tmp_path / "a").write_bytes(b"a")
    assert [*zip_stream([tmp_path / "a"])] == [*zip_stream([tmp_path / "a"])]
