"""Sizes as people write them; each expected value is arithmetic from 1 in. = 25.4 mm exactly."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from replacements.domain.lengths import LengthError, length, lengths, written


@pytest.mark.parametrize(
    ("typed", "inches"),
    [
        ("3/8", 0.375), ("3 / 8", 0.375), ("3/8 in", 0.375), ("3/8 in.", 0.375), ('3/8"', 0.375),
        ("⅜", 0.375), ("0.375", 0.375), (".375", 0.375), ("9.5 mm", 0.374), ("9.525mm", 0.375),
        ("1 1/4 in", 1.25), ("1-1/4", 1.25), ("1¼ in", 1.25), ("2.54 cm", 1.0), ("1/2-in", 0.5),
        ("5 ft 3 in", 63), ("5' 3\"", 63), ("5′ 3 1/2″", 63.5), ("5 ft 3", 63), ("0", 0),
    ],
)  # fmt: skip
def test_a_size_is_read_as_it_is_written(typed, inches):
    assert length(typed) == inches


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("9,5", "comma"), ("3/0", "zero"), ("1 5/4", "less than one"), ("-1/2", "below zero"),
        ("1 2", "more than one"), ("2 cm 3 mm", "more than one"), ("3 lb", "no unit of length"),
        ("1e5", "no unit of length"), ("nan", "no length"), ("3/8/2", "no length"), (" ", "no len"),
        ("1.2.3", "no length"), ("L", "no length"), ("9" * 400, "no length"), ("5 ft 3 lb", "lb"),
    ],
)  # fmt: skip
def test_what_may_mean_two_things_is_refused_by_a_sentence(typed, said):
    with pytest.raises(LengthError, match=said):
        length(typed)


def test_a_field_in_feet_reads_inches_and_meters_too():
    assert [length(each, "FT") for each in ("27 1/2", "18 in", "8 m")] == [27.5, 1.5, 26.2467]
    assert lengths("5/8; 3/4 in, 25.4 mm,") == [0.625, 0.75, 1.0]


@given(st.floats(0, 1e6, allow_nan=False))
def test_what_a_field_shows_is_read_back_as_the_same_size(value):
    if "e" not in repr(value) and len(repr(value)) < 13:
        assert length(written(value)) == value


@given(st.text(max_size=40))
def test_any_text_is_a_length_or_a_sentence(typed):
    try:
        assert length(typed) >= 0
    except LengthError as error:
        assert str(error).endswith((".", "mm."))
