"""How pages write shares and counts, and say which values of the rule nobody read yet."""

import re
from fractions import Fraction

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from program.clock import today
from program.domain.shares import percent
from program.page_values import PAGE_VALUES
from program.queries.rule_values import not_yet_read
from services_inventory.domain.days import kept_day_told

_CODE = re.compile(r"\b[A-Z]+(?:_[A-Z]+)+\b")
_ONLY_CODES = re.compile(r"[A-Z_]{2,}(?:(?:; | or |, )[A-Z_]{2,})*")
register = template.Library()
register.filter("kept_day", kept_day_told)


@register.filter
def share(value: Fraction | None) -> str:
    """Write an exact share in percent, cut off so that it never looks reached."""
    return percent(value)


@register.filter
def amount(value) -> str:
    """Write micrograms per liter as short as they are exact, to a thousandth."""
    return f"{round(float(value), 3):,}".removesuffix(".0")


@register.filter
def kind_count(kinds: dict, name: str) -> int:
    """Return how many works of one kind a program year has."""
    return sum(number for kind, number in kinds.items() if kind.value == name)


@register.filter
def uncoded(text) -> str:
    """Write codes as words; abbreviations within a sentence stay.

    >>> uncoded("NOTICE; UNDER_CONTROL"), uncoded("See POOL_BASIS and the EPA.")
    ('notice; under control', 'See pool basis and the EPA.')
    """
    if _ONLY_CODES.fullmatch(text := str(text)):
        return text.replace("_", " ").lower()
    return _CODE.sub(lambda code: code[0].replace("_", " ").lower(), text)


@register.filter
def breakable(name: str) -> SafeString:
    """Write a name such as LEAD_BAN_DATE so that a line may break after its underscores."""
    return format_html_join(SafeString("_<wbr>"), "{}", ((part,) for part in name.split("_")))


@register.inclusion_tag("program/_not_yet_read.html", takes_context=True)
def values_not_read(context) -> dict:
    """Say once on a staff's page which values it uses that nobody read in the rule's text."""
    request = context.get("request")
    match = getattr(request, "resolver_match", None)
    ids = PAGE_VALUES.get(match.url_name, ()) if match else ()
    may = ids and request.user.has_perm("program.view_boards")
    return {"values": not_yet_read(ids, today()) if may else []}
