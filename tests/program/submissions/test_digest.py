"""The chain from one submission to the next."""

import hashlib

import pytest

from program.submissions import digest


def filed(folder, name, content):
    path = folder / name
    with digest.put_in_place(path) as unfinished:
        unfinished.write_bytes(content)
    return digest.written(path, {})


def three(folder):
    chain, previous = [], digest.FIRST
    for year in (1, 2, 3):
        file = filed(folder, f"year{year}.csv", b"line %d" % year)
        chain.append(digest.manifest([file], previous=previous, about={"program_year": year}))
        previous = digest.digest(chain[-1])
    return chain


def test_the_digest_is_the_hash_of_the_written_manifest(tmp_path):
    chain = three(tmp_path)
    written = digest.write_manifest(tmp_path / "manifest.json", chain[0])
    assert written.sha256 == digest.digest(chain[0])
    assert written.sha256 == hashlib.sha256(written.path.read_bytes()).hexdigest()


def test_the_order_of_the_files_does_not_matter(tmp_path):
    a, b = filed(tmp_path, "a", b"1"), filed(tmp_path, "b", b"2")
    one = digest.manifest([a, b], previous="", about={})
    assert one == digest.manifest([b, a], previous="", about={})
    with pytest.raises(ValueError, match="called a"):
        digest.manifest([a, a], previous="", about={})


def test_a_failure_leaves_the_old_file_and_no_remains(tmp_path):
    filed(tmp_path, "a", b"old")
    with pytest.raises(RuntimeError), digest.put_in_place(tmp_path / "a") as unfinished:
        unfinished.write_bytes(b"half")
        raise RuntimeError
    assert (tmp_path / "a").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a"]
