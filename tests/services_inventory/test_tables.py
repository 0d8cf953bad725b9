"""A table that a template declares by its headings."""

import pytest
from django.template import Context, Template


def written(source: str, **given) -> str:
    return Template(source).render(Context(given))


def test_a_table_has_its_caption_headings_and_rows():
    shown = written('{% table "Year by year" "Year" "#Jobs" %}<tr></tr>{% endtable %}')
    assert "<caption>Year by year</caption>" in shown
    assert '<th scope="col">Year</th><th scope="col" class="number">Jobs</th>' in shown
    assert "<tbody><tr></tr></tbody>" in shown


@pytest.mark.parametrize(
    ("given", "caption"),
    [("None", ""), ('"Words" hidden=True', '<caption class="skip">Words</caption>')],
)
def test_a_caption_may_be_left_out_or_hidden(given, caption):
    name, *more = given.split(" ", 1)
    shown = written("{% table " + " ".join((name, '"A"', *more)) + " %}{% endtable %}")
    assert f'<table class="stack">{caption}<thead>' in shown


def test_what_somebody_named_is_no_markup():
    shown = written('{% table name "#"|add:name %}{{ name }}{% endtable %}', name="<b>#1</b>")
    assert "<b>" not in shown and shown.count("&lt;b&gt;#1") == 3
