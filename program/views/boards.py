"""The first page after signing in, and the pages that stand in when nothing else can."""

import sys

from django.contrib.auth.decorators import login_required
from django.db import connection
from django.http import HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.defaults import server_error

from program.clock import now, today
from program.queries.boards import (
    administrator_board,
    compliance_board,
    contractor_board,
    manager_board,
)
from program.roles import ADMINISTRATOR, COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER, role_of
from services_inventory.database_away import database_away

_BOARDS = {
    PROGRAM_MANAGER: ("program/board_manager.html", lambda request: manager_board(today())),
    CONTRACTOR: ("program/board_contractor.html", lambda request: contractor_board(request.user)),
    COMPLIANCE: (
        "program/board_compliance.html",
        lambda request: compliance_board(today(), now()),
    ),
    ADMINISTRATOR: (
        "program/board_administrator.html",
        lambda request: administrator_board(now()),
    ),
}


@login_required
def board(request):
    """Show the board of the user's role."""
    template, read = _BOARDS.get(role_of(request.user), ("program/board.html", lambda request: {}))
    return render(request, template, read(request))


@login_required
def help_page(request):
    """Show how the main job is done, role by role."""
    return render(request, "program/help.html", {})


def healthy(request):
    """Answer a monitor that asks whether the program runs and reaches its database."""
    connection.close_if_health_check_failed()  # a kept one may lead to a server that is gone
    connection.ensure_connection()
    return HttpResponse("ok", content_type="text/plain")


def broken(request):
    """Answer what ended in an error: in a sentence of its own when the database is away."""
    sentence = database_away(sys.exception())
    if not sentence:
        return server_error(request)
    content = render_to_string("503.html", {"sentence": sentence})
    return HttpResponse(content, status=503, headers={"Retry-After": "60"})
