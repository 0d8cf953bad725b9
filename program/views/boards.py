"""The first page after signing in: what this role has to do today."""

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import render


@login_required
def board(request):
    """Show the board of the user's role."""
    return render(request, "program/board.html", {})


@login_required
def help_page(request):
    """Show how the main job is done, role by role."""
    return render(request, "program/help.html", {})


def healthy(request):
    """Answer a monitor that asks whether the program runs."""
    return HttpResponse("ok", content_type="text/plain")
