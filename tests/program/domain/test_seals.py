"""Seals of rows, and the chain of them."""

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from program.domain.seals import FIRST, broken_at, seal, text_of

BLOCKS = [[(1, "a"), (2, None)], [(3, 'say "no", twice')], [(4, "two\nlines")]]


def chain_of(blocks):
    """Return the seals of blocks of rows, one after the other."""
    made, head = [], FIRST
    for n, rows in enumerate(blocks):
        made.append(seal(head, "things", rows, str(n), "2031"))
        head = made[-1].head
    return made


def test_a_digest_is_the_sha_256_of_the_rows_as_csv():
    """RFC 4180 for the text, FIPS 180-4 for the digest, both by the standard library."""
    text = '3,"say ""no"", twice"\n'
    assert text_of(BLOCKS[1]) == text
    assert (
        seal(FIRST, "things", BLOCKS[1], "3", "2031").digest
        == hashlib.sha256(text.encode()).hexdigest()
    )


def test_an_untouched_chain_holds():
    assert broken_at(chain_of(BLOCKS)) is None
    assert broken_at([]) is None


@pytest.mark.parametrize("field", ["stream", "rows", "last", "digest", "at", "head"])
@pytest.mark.parametrize("place", range(3))
def test_an_altered_seal_breaks_the_chain_where_it_stands(field, place):
    chain = chain_of(BLOCKS)
    was = getattr(chain[place], field)
    chain[place] = chain[place]._replace(**{field: was + (1 if field == "rows" else "0")})
    assert broken_at(chain) == place


@pytest.mark.parametrize("place", range(2))
def test_a_seal_taken_out_breaks_the_chain(place):
    chain = chain_of(BLOCKS)
    del chain[place]
    assert broken_at(chain) == place


_cells = st.one_of(st.none(), st.integers(), st.text(), st.floats(allow_nan=False), st.booleans())


@given(st.lists(st.tuples(st.integers(), _cells, _cells), min_size=1, max_size=5), st.data())
def test_two_blocks_of_rows_that_a_file_tells_apart_have_two_digests(rows, data):
    """None and empty text are one in a file, as are a number and its digits."""
    at = data.draw(st.integers(0, len(rows) - 1))
    other = [*rows]
    other[at] = (rows[at][0] + 1, *rows[at][1:])
    one, two = (seal(FIRST, "things", found, "1", "2031") for found in (rows, other))
    assert one.digest != two.digest
