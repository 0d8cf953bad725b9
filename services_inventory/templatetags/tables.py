"""A page's table, declared by its caption and the headings of its columns."""

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_block_tag
def caption(content: SafeString) -> SafeString:
    """Write a caption of more than a few words `as` a name, for a table that begins below."""
    return content


@register.simple_block_tag
def table(content: SafeString, caption: str | None, *headings: str, hidden=False) -> SafeString:
    """Write a table around its rows; on a narrow screen each row becomes a card.

    caption : None where a heading stands right above; `hidden`: only for who can't see the page
    headings : `#` before one has its column hold numbers
    """
    heads = format_html_join(
        "",
        '<th scope="col"{}>{}</th>',
        ((_NUMBER if name[:1] == "#" else "", name.removeprefix("#")) for name in headings),
    )
    skip = SafeString(' class="skip"') if hidden else ""
    told = format_html("<caption{}>{}</caption>", skip, caption) if caption is not None else ""
    return format_html(
        '<div class="table-box"><table class="stack">{}<thead><tr>{}</tr></thead>'
        "<tbody>{}</tbody></table></div>",
        told, heads, content,
    )  # fmt: skip


_NUMBER = SafeString(' class="number"')
