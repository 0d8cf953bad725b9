"""How pages write shares and counts."""

from fractions import Fraction

from django import template
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from program.domain.shares import percent

register = template.Library()


@register.filter
def share(value: Fraction | None) -> str:
    """Write an exact share in percent, cut off so that it never looks reached."""
    return percent(value)


@register.filter
def kind_count(kinds: dict, name: str) -> int:
    """Return how many works of one kind a program year has."""
    return sum(number for kind, number in kinds.items() if kind.value == name)


@register.filter
def breakable(name: str) -> SafeString:
    """Write a name such as LEAD_BAN_DATE so that a line may break after its underscores."""
    return format_html_join(SafeString("_<wbr>"), "{}", ((part,) for part in name.split("_")))
