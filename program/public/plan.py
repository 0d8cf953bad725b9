"""The replacement plan document that was made public, as a PDF."""

from django.http import FileResponse, Http404
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from program.operations.plan_documents import plan_document_path
from program.public.limits import HOUR, limited
from program.queries.plan_documents import published_document


@require_safe
@limited("plan", 60, HOUR)
@cache_control(public=True, max_age=300)
def replacement_plan(request):
    """Send the latest public document, if there is one."""
    document = published_document()
    path = plan_document_path(document) if document else None
    if path is None or not path.is_file():
        raise Http404
    return FileResponse(open(path, "rb"), filename=path.name)
