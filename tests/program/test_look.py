"""How pages look by day and by night, and which of their words they explain."""

import re
from itertools import product

import pytest
from django.urls import reverse

from tests.source_files import ROOT

STYLE = (ROOT / "program/static/program/house.css").read_text()
TOKENS = {
    name: (day, night or day)
    for name, day, night in re.findall(r"--([\w-]+): (?:light-dark\()?(#\w+)(?:, (#\w+)\))?", STYLE)
}
SOFT = ("water", "stop", "caution", "good", "brass", "cat-lead", "cat-grr", "cat-unknown",
        "cat-non-lead")  # fmt: skip
READ_ON = [
    *product(("ink", "ink-soft", "water", "stop", "deep-ink"), ("paper", "sheet")),
    *product(("ink",), [f"{name}-soft" for name in SOFT]),
    *((name, f"{name}-soft") for name in SOFT if name != "brass"),
    ("ink", "field"), ("ink", "row-hover"), ("on-stop", "stop"),
]  # fmt: skip


def _luminance(tone: str) -> float:
    """WCAG 2.2, "relative luminance"."""
    digits = tone[1:] if len(tone) == 7 else "".join(2 * digit for digit in tone[1:])
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
              for part in parts]  # fmt: skip
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


@pytest.mark.parametrize(("when", "at"), [("day", 0), ("night", 1)])
def test_words_stand_out_from_their_ground_by(when, at):
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text."""
    for word, ground in READ_ON:
        light, dark = sorted(_luminance(TOKENS[name][at]) for name in (word, ground))[::-1]
        assert (light + 0.05) / (dark + 0.05) >= 4.5, f"{word} on {ground} by {when}"


def test_what_is_chosen_stays_in_the_browser_and_nothing_else_does(client, django_user_model):
    client.force_login(django_user_model.objects.create_user("clerk"))
    answer = client.post(reverse("own_look"), {"theme": "dark", "rows": 'tiny" onload="x'})
    assert answer.cookies["theme"].value == "dark"
    assert "rows" not in answer.cookies
    client.cookies["rows"] = 'x" onload="x'
    page = client.get(reverse("own_account")).content.decode()
    assert 'data-theme="dark"' in page
    assert "data-rows" not in page


def test_every_word_that_a_page_explains_stands_in_the_glossary(client, django_user_model):
    marked = re.compile(r'<dfn(?: data-word="([^"]+)")?>([^<]+)</dfn>')
    asked = {
        (word or text).casefold()
        for page in ROOT.rglob("*/templates/**/*.html")
        for word, text in marked.findall(page.read_text("utf-8"))
        if "{{" not in text
    }
    assert client.get(reverse("help_words")).status_code == 302
    client.force_login(django_user_model.objects.create_user("clerk"))
    told = client.get(reverse("help_words")).json()
    assert len(asked) > 8
    assert asked <= told.keys()
    assert {"system side", "customer side", "connector", "grr"} <= told.keys()
