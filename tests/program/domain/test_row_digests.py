"""Digests of single rows: which differ, and which are taken anew."""

from hypothesis import given
from hypothesis import strategies as st

from program.domain.row_digests import differing, packed, taken, unpacked

_texts = st.dictionaries(st.integers(0, 2**62), st.text(max_size=8), max_size=6)


@given(_texts)
def test_what_was_just_taken_differs_nowhere_and_survives_packing(texts):
    digests = taken({}, texts, None)
    assert unpacked(packed(digests)) == digests
    assert differing(digests, texts) == []


@given(_texts, _texts, st.sets(st.integers(0, 2**62)), st.data())
def test_only_what_the_program_did_not_write_differs(was, now, written, data):
    written |= {pk for pk in was if data.draw(st.booleans())}
    seen = differing(taken(taken({}, was, None), now, written), now)
    altered = {pk for pk in was if now.get(pk) != was[pk]}
    assert seen == sorted(altered - written)


@given(_texts)
def test_equal_rows_have_unlike_digests(texts):
    digests = taken({}, dict.fromkeys(texts, "555 0100"), None)
    assert len(set(digests.values())) == len(texts)
