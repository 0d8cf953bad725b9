"""The search box of every page, and the page of all that it finds."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render

from program.queries.finding import MOST, PEOPLE_ASKED, SHOWN, found


@login_required
def find(request):
    """Show what is found for the words typed: a few of each kind while typing, more on a page."""
    text = request.GET.get("q", "")
    typing = request.GET.get("while") == "typing"
    page = "program/_found.html" if typing else "program/find.html"
    results = found(text, request.user, SHOWN if typing else MOST)
    request.names_residents = any(one.kind == PEOPLE_ASKED for one in results)
    return render(request, page, {"found": results, "q": text})
