"""What other apps add to a line's page, without this app knowing of them.

The setting `LINE_PANELS` names callables (request, line) -> {"title", "template", "context"},
or None where there is nothing to show.
"""

from django.conf import settings
from django.contrib.auth.context_processors import PermWrapper
from django.template.context_processors import csrf
from django.template.loader import render_to_string
from django.utils.module_loading import import_string


def line_panels(request, line) -> list[dict]:
    """Return the title and the HTML of each panel that has something to show."""
    page = {"request": request, "perms": PermWrapper(request.user), **csrf(request)}
    panels = []
    for named in getattr(settings, "LINE_PANELS", ()):
        found = import_string(named)(request, line)
        if found:
            html = render_to_string(found["template"], {**page, **found["context"]})
            panels.append({"title": found["title"], "html": html})
    return panels
