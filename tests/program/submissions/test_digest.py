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


def test_an_unbroken_chain_ends_in_the_last_digest(tmp_path):
    chain = three(tmp_path)
    assert digest.check_chain(chain) == digest.digest(chain[-1])


@pytest.mark.parametrize("year", [0, 1])
def test_an_altered_manifest_breaks_it(tmp_path, year):
    chain = three(tmp_path)
    chain[year]["about"]["program_year"] = 9
    with pytest.raises(digest.ChainBroken, match=f"Manifest {year + 2} of the chain"):
        digest.check_chain(chain)


def test_a_manifest_left_out_breaks_it(tmp_path):
    first, _second, third = three(tmp_path)
    with pytest.raises(digest.ChainBroken, match="Manifest 2"):
        digest.check_chain([first, third])


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


def test_missing_and_altered_files_are_named(tmp_path):
    files = [filed(tmp_path, name, b"1") for name in ("a", "b", "c")]
    content = digest.manifest(files, previous="", about={})
    assert digest.check_files(tmp_path, content) == []
    (tmp_path / "a").unlink()
    (tmp_path / "b").write_bytes(b"2")
    assert digest.check_files(tmp_path, content) == [
        "a is missing.",
        "b differs from the file that was filed.",
    ]


def test_a_failure_leaves_the_old_file_and_no_remains(tmp_path):
    filed(tmp_path, "a", b"old")
    with pytest.raises(RuntimeError), digest.put_in_place(tmp_path / "a") as unfinished:
        unfinished.write_bytes(b"half")
        raise RuntimeError
    assert (tmp_path / "a").read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a"]
