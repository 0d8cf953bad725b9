"""Who opened what names residents: one row for each page that shows such a column."""

from .clock import machine_now
from .models import PersonalOpened
from .queries.personal import pages_of_residents


def note_what_is_opened(get_response):
    """Note a page that was shown to somebody who is signed in."""

    def answered(request):
        answer = get_response(request)
        page = request.resolver_match.url_name if request.resolver_match else ""
        named = getattr(request, "names_residents", page in pages_of_residents())
        if named and answer.status_code == 200:
            _note(request, page)
        return answer

    return answered


def _note(request, page: str) -> None:
    if not request.user.is_authenticated or request.method not in ("GET", "HEAD"):
        return
    numbers = " ".join(str(value) for value in request.resolver_match.kwargs.values())
    PersonalOpened.objects.create(
        opened_by=request.user.get_username(), page=page, of=numbers[:60], at=machine_now()
    )
