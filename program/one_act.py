"""A form that was sent twice is recorded once: double click, reload, back button.

Every form that records something has a one-time token (`{% one_act %}`). Here, before the page's
view, a token that was used already leads to what was recorded then, with a sentence that says so.
A refused form keeps its token, so that it can be mended and sent again. Who goes back, types
something else and sends the used form is asked to send once more: that may be a second act.

An act is one transaction, and on SQLite nobody else writes meanwhile. So what takes long is done
before: files are read for their digests here, and a page may do more in its `read_ahead(request)`,
which is called before the view is, and so asks first whether it would let the user in.
"""

import hashlib
import json
from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import translation
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.safestring import SafeString
from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from services_inventory.models import SentOnce
from services_inventory.operations.sent_once import SentBefore, sent_once
from services_inventory.templatetags.one_act import FIELD
from services_inventory.uploading import sha256_of_upload

from .clock import now
from .typed import told
from .wrong_values import answered

KEY_LENGTH = SentOnce._meta.get_field("key").max_length


class OneAct:
    """The one place where tokens of forms are looked at."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]):
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer; all is done once the view is known."""
        return self.get_response(request)

    def process_view(self, request, view, args, kwargs) -> HttpResponse | None:
        """Let the view answer once for each token; devices send a key of their own instead."""
        if request.method != "POST" or getattr(view, "csrf_exempt", False):
            return None
        token = request.POST.get(FIELD, "")
        if not 0 < len(token) <= KEY_LENGTH:
            return None
        page = getattr(view, "view_class", None)
        content = _content(request)
        if ahead := getattr(page, "read_ahead", None):
            ahead(request)
        try:
            return sent_once(
                user=request.user,
                key=token,
                content_sha256=content,
                at=now(),
                work=lambda: answered(view, request, *args, **kwargs),
                answer=lambda response: _recorded(request, response),
            )
        except SentBefore as before:
            return _same(request, before.kept) if before.same else _other(request, before.kept)


def _content(request) -> str:
    """Return a digest of where a form went and what was in it."""
    fields = {name: values for name, values in request.POST.lists() if not name.endswith("token")}
    files = {
        name: [(file.name, sha256_of_upload(file)) for file in sent]
        for name, sent in request.FILES.lists()
    }
    text = json.dumps([request.get_full_path(), fields, files], sort_keys=True)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _recorded(request, response) -> tuple[int, dict] | None:
    """Return where the answer led and what it said; None where it shows the form again."""
    levels = [level for level, _ in told(request)]
    refused = any(level >= messages.ERROR for level in levels) and messages.SUCCESS not in levels
    if refused or response.status_code == 200 or response.status_code >= 400:
        return None
    said = [text for level, text in told(request) if level < messages.ERROR]
    where = response.get("Location", request.get_full_path())
    return response.status_code, {"where": where, "said": said}


def _same(request, kept: SentOnce) -> HttpResponse:
    """Lead to what was recorded by this very form."""
    with _language_of(request):
        messages.info(request, _first(kept, _("Nothing was recorded a second time.")))
    return redirect(kept.answer["where"])


def _other(request, kept: SentOnce) -> HttpResponse:
    """Show the form again with what was typed now, as the used one said something else."""
    with _language_of(request):
        messages.info(request, _first(kept, _("That is unchanged.")))
        messages.error(
            request,
            _(
                "What you typed now is not recorded yet, as this form was used before. Send it "
                "once more if it is to be recorded besides."
            ),
        )
    page = request.headers.get("Referer", "")
    own = url_has_allowed_host_and_scheme(page, {request.get_host()}, request.is_secure())
    return redirect(page if own else kept.answer["where"])


def _language_of(request):
    """Speak as the address does: public pages in two languages, staff's in English."""
    public = request.resolver_match.namespace == "public"
    return translation.override(request.resolver_match.kwargs["language"] if public else "en")


def _first(kept: SentOnce, what_now: str) -> SafeString:
    """Say when the form was recorded and what was said then, with the way there."""
    return format_html(
        '{} {} <a href="{}">{}</a>. {}',
        _("Already recorded on %(day)s.")
        % {"day": date_format(localtime(kept.sent_at), "DATETIME_FORMAT")},
        " ".join(kept.answer["said"]),
        kept.answer["where"],
        _("See what was recorded"),
        what_now,
    )
