"""The first page after signing in: what this role has to do today."""

from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe

from program.clock import now, today
from program.planning.charts import due_svg
from program.queries.boards import (
    administrator_board,
    compliance_board,
    contractor_board,
    manager_board,
)
from program.queries.first_hour import next_things
from program.queries.seals import last_proofs
from program.roles import ADMINISTRATOR, COMPLIANCE, CONTRACTOR, PROGRAM_MANAGER, role_of
from program.views.deadlines import PRESSES
from program.views.plans.pace import pace_shown


def _manager(request) -> dict:
    found = manager_board(today())
    return {**_due_shown(found), **pace_shown(found["pace"], request.user)}


def _due_shown(found: dict) -> dict:
    """Return a board with the picture of what is due; every text in it is escaped there."""
    duties = found["duties"]
    return {**found, "due_picture": duties and mark_safe(due_svg(duties, today(), _due_list))}


def _due_list(what: str) -> str:
    return f"{reverse('deadline_list')}?{urlencode({'what': what, 'state': PRESSES})}"


_BOARDS = {
    PROGRAM_MANAGER: ("program/board_manager.html", _manager),
    CONTRACTOR: ("program/board_contractor.html", lambda request: contractor_board(request.user)),
    COMPLIANCE: (
        "program/board_compliance.html",
        lambda request: _due_shown(compliance_board(today(), now())),
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
def next_things_page(request):
    """Show what is next for the user's role, and what proves the record, once the board stands."""
    shown = {"next_things": next_things(request.user)}
    if request.user.has_perm("program.view_people"):
        shown["proofs"] = last_proofs()
    return render(request, "program/_next.html", shown)
