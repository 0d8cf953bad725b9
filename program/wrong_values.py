"""Values on record that can't be computed by: a sentence and the way to take them back, no error.

Nothing is computed by them and nothing by others in their place: either would put wrong figures
before people without a word.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render

from .rules import WrongValues, rules_known

CONFLICT = 409


def say_what_is_wrong(get_response: Callable) -> Callable[[HttpRequest], HttpResponse]:
    """Answer with what is wrong where a page could not be computed."""

    def answer(request: HttpRequest) -> HttpResponse:
        return get_response(request)

    def process_exception(request: HttpRequest, error: Exception) -> HttpResponse | None:
        return wrong_values(request, error) if isinstance(error, WrongValues) else None

    answer.process_exception = process_exception
    return answer


def answered(view: Callable, request: HttpRequest, *args, **kwargs) -> HttpResponse:
    """Return a view's answer, for whoever calls views where no `process_exception` is asked."""
    try:
        return view(request, *args, **kwargs)
    except WrongValues as error:
        return wrong_values(request, error)


def wrong_values(request: HttpRequest, error: WrongValues) -> HttpResponse:
    """Say what is wrong to those who can mend it, and to others that it is being mended."""
    may_see = request.user.has_perm("program.view_boards")
    sentence = str(error) if may_see else "The utility corrects its settings. Come back later."
    if request.path.startswith(("/api/", "/ogc/")):
        return JsonResponse({"detail": sentence}, status=CONFLICT)
    context = {"faults": rules_known().faults if may_see else [], "sentence": sentence}
    return render(request, "program/wrong_values.html", context, status=CONFLICT)
