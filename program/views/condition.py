"""How the program itself stands: what a monitor is told, and the page for one that broke."""

import re
import sys

from django.conf import settings
from django.db import connection
from django.http import Http404, HttpResponse, HttpResponseServerError
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.crypto import constant_time_compare
from django.views.defaults import bad_request, page_not_found
from django_guid import get_guid

from program.clock import now
from program.public.pages import nothing_here
from program.watching import metrics_written
from services_inventory.database_away import database_away, disk_full
from services_inventory.given import NotANumber
from services_inventory.kept_files import store_away
from services_inventory.sending import NotAsKept

PUBLIC = re.compile("/public/[a-z]{2,3}(?:-[a-z]+)?/")


def healthy(request):
    """Answer a monitor that asks whether the program runs and reaches its database."""
    connection.close_if_health_check_failed()  # a kept one may lead to a server that is gone
    connection.ensure_connection()
    return HttpResponse("ok", content_type="text/plain")


def metrics(request):
    """Answer whoever gathers metrics and shows the key; nobody else learns that there are any."""
    key, given = settings.METRICS_KEY, request.headers.get("Authorization", "")
    if not key or not constant_time_compare(given, f"Bearer {key}"):
        raise Http404
    content, kind = metrics_written(now())
    return HttpResponse(content, content_type=kind)


def unread(request, exception):
    """Answer what could not be read: a number that is none gets its sentence."""
    if not isinstance(exception, NotANumber):
        return bad_request(request, exception)
    return render(request, "program/not_a_number.html", {"sentence": str(exception)}, status=400)


def nothing(request, exception):
    """Answer what is not there: a kept file that is gone or altered gets its sentence."""
    if not isinstance(exception, NotAsKept):
        if PUBLIC.match(request.path):
            return nothing_here(request)
        return page_not_found(request, exception)
    return render(request, "program/not_as_kept.html", {"sentence": str(exception)}, status=404)


def broken(request):
    """Answer what ended in an error: in a sentence of its own when database or store is away."""
    error = sys.exception()
    sentence = database_away(error) or disk_full(error) or store_away(error)
    if not sentence:
        content = render_to_string("500.html", {"number": get_guid()})
        return HttpResponseServerError(content)
    content = render_to_string("503.html", {"sentence": sentence})
    return HttpResponse(content, status=503, headers={"Retry-After": "60"})
