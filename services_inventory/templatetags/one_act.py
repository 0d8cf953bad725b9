"""The one-time token of a form that records something."""

import secrets

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()
FIELD = "once_token"


@register.simple_tag
def one_act() -> SafeString:
    """Write the hidden field by which a form is taken once (`program.one_act`).

    Without `autocomplete="off"` a browser that reloads a page puts the used token back.
    """
    return format_html(
        '<input type="hidden" name="{}" value="{}" autocomplete="off">',
        FIELD,
        secrets.token_urlsafe(16),
    )
