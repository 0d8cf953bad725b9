"""The code on a tool's label: no slip of the hand gives another tool."""

import pytest

from replacements.domain.tool_codes import SIGNS, CodeError, code_of, number_of

NUMBERS = (1, 30, 31, 961, 29_791, 1_000_001, 1_048_576, 2**40)


@pytest.mark.parametrize("number", NUMBERS)
def test_every_slip_of_one_sign_and_every_swap_of_neighbors_shows(number):
    code = code_of(number)
    assert number_of(code) == number_of(code.lower().replace("-", "")) == number
    signs = code.replace("-", "")
    slips = {signs[:at] + sign + signs[at + 1 :] for at in range(len(signs)) for sign in SIGNS}
    for at in range(len(signs) - 1):
        slips.add(signs[:at] + signs[at + 1] + signs[at] + signs[at + 2 :])
    for slip in slips - {signs}:
        with pytest.raises(CodeError):
            number_of(slip)


@pytest.mark.parametrize("typed", ["", "O0I1", "22", "W-1000001", "3AQ MD?", "2" * 40])
def test_what_is_no_code_is_refused(typed):
    with pytest.raises(CodeError, match="code|mistyped"):
        number_of(typed)
