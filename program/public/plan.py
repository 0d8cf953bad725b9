"""The replacement plan document that was made public, as a PDF."""

from django.http import Http404
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from program.public.limits import HOUR, limited
from program.queries.plan_documents import published_document
from services_inventory.kept_files import KeptFile
from services_inventory.sending import file_as_kept


@require_safe
@limited("plan", 60, HOUR)
@cache_control(public=True, max_age=300)
def replacement_plan(request):
    """Send the latest public document, if there is one."""
    document = published_document()
    if document is None:
        raise Http404
    return file_as_kept(KeptFile(document.path), document.sha256, as_attachment=False)
