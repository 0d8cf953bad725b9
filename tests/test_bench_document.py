"""A benchmark's table goes into its own block of the document, and nothing else changes."""

import subprocess
import sys

import pytest

from tests.bench.__main__ import BENCHMARKS, DOCUMENT, write_block
from tests.bench.document import BEGIN, END, BlockMissing, block_replaced
from tests.source_files import ROOT

TEXT = f"""# Speed

{BEGIN.format(name="pages")}
old pages
{END}

Words between.

{BEGIN.format(name="exports")}
old exports
{END}
The end."""


def test_only_the_named_block_is_replaced():
    found = block_replaced(TEXT, "pages", "| new |\n")
    assert found == TEXT.replace("old pages", "| new |")


def test_written_twice_is_the_same_as_once(tmp_path):
    document = tmp_path / "performance.md"
    document.write_text(TEXT, encoding="utf-8")
    for content in ("first", "second", "second"):
        write_block(document, "exports", content)
    assert document.read_text(encoding="utf-8") == TEXT.replace("old exports", "second")


def test_missing_block_is_named_and_the_document_left_alone(tmp_path):
    document = tmp_path / "performance.md"
    document.write_text(TEXT, encoding="utf-8")
    with pytest.raises(SystemExit, match="no place for plans: put the lines <!-- measured by"):
        write_block(document, "plans", "new")
    assert document.read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize("cut", [TEXT.replace(f"old pages\n{END}", "old pages"),
                                 TEXT[: TEXT.index("old pages")]])  # fmt: skip
def test_block_without_its_end_is_not_overrun(cut):
    with pytest.raises(BlockMissing, match="block of pages does not end"):
        block_replaced(cut, "pages", "new")


@pytest.mark.parametrize("name", BENCHMARKS)
def test_document_has_a_block_for_every_benchmark(name):
    text = DOCUMENT.read_text(encoding="utf-8")
    assert "new" in block_replaced(text, name, "new")


def test_without_a_name_the_benchmarks_are_listed():
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench"], cwd=ROOT, capture_output=True, text=True
    )
    assert done.returncode == 1
    assert all(name in done.stderr for name in BENCHMARKS)
