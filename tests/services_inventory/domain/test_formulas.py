"""Text that a spreadsheet would run: the signs that OWASP's page on CSV Injection lists."""

import pytest

from services_inventory.domain.formulas import could_run, without_formula


@pytest.mark.parametrize(
    "text",
    ['=HYPERLINK("x")', "+1", "-1+cmd|' /C calc'!A0", "@SUM(A1)", "\t=1", "\r=1", "  =1",
     "\u00a0=1", "\ufeff@x", "\uff1d1", "\uff20x"],
)  # fmt: skip
def test_what_a_spreadsheet_would_run_stands_after_an_apostrophe(text):
    assert could_run(text)
    assert without_formula(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "12 Mill St", "'quoted'", "a=b", "Apt #2", "12-14 Oak"])
def test_ordinary_text_stays_as_it_is(text):
    assert without_formula(text) == text
