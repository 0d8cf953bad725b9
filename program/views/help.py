"""The guides, as `build_help` made them, within the program's own frame."""

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, JsonResponse
from django.shortcuts import render
from django.utils._os import safe_join
from django.views.decorators.cache import cache_control
from django.views.static import serve

from program.glossary import meanings


@login_required
def help_page(request, page: str = ""):
    """Show a page of the guides, or give a file that one rests on."""
    if "." in page.rsplit("/", 1)[-1]:
        return serve(request, page, document_root=settings.HELP_DIR)
    if page and not page.endswith("/"):
        raise Http404("A page of the guides ends with a slash.")
    text = _read(page)
    return render(request, "program/help.html", {"text": text, "title": _title(text)})


@login_required
@cache_control(private=True, max_age=3600)
def help_words(request):
    """Give what the glossary's words mean."""
    return JsonResponse(meanings())


def _read(page: str) -> str:
    if not settings.HELP_DIR.is_dir():
        return ""
    try:
        with open(safe_join(settings.HELP_DIR, page, "index.html"), encoding="utf-8") as file:
            return file.read()
    except (OSError, ValueError) as error:
        raise Http404("The guides have no such page.") from error


def _title(text: str) -> str:
    """Return the page's first heading."""
    return text.partition("<h1")[2].partition(">")[2].partition("</h1>")[0]
