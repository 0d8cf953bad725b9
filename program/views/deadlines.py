"""Everything that is due, its calendar feed, and saying that a thing is done."""

from datetime import date
from urllib.parse import urlencode

from django.contrib.auth import get_user_model
from django.core import signing
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views import View
from django.views.generic import TemplateView

from program.clock import today
from program.domain.deadlines import Due, DueState, Group, SubjectKind, grouped, to_ics
from program.domain.regulation import RULES
from program.forms import DoneForm
from program.models import DoneMark
from program.operations.deadlines import deadline_done
from program.queries.deadlines import Chosen, Deadlines, NothingFound, chosen_by, deadlines_on
from program.queries.done_marks import latest_marks
from program.roles import duty_owner
from services_inventory.domain.days import day_told
from services_inventory.given import number_given
from services_inventory.sending import document_sent

from .acts import Act, TakeBack
from .permitted import Permitted

FEED_SALT = "deadline feed"
SHOWN = 12
PRESSES = "PRESSES"
STATES = (
    (PRESSES, "Overdue or due soon"),
    *((state.value, state.label) for state in DueState if state is not DueState.DONE),
)


class DeadlineListView(Permitted, TemplateView):
    """Overdue first, then by day; filtered by whom it is about and how it stands."""

    template_name = "program/deadline_list.html"
    extra_context = {"subjects": list(SubjectKind)}

    def get_context_data(self, **kwargs):
        about, chosen, problem = _chosen(self.request)
        found = Deadlines(today(), [], ()) if problem else deadlines_on(today(), chosen)
        subject, state = self.request.GET.get("subject", ""), self.request.GET.get("state", "")
        what, day = self.request.GET.get("what", ""), self.request.GET.get("day", "")
        groups = _asked_for(found, subject, state, what, day)
        rows, more = _page(groups, self.request.GET.get("after", ""))
        return super().get_context_data(
            rows=_rows(rows, found.as_of, {"about": about, "subject": subject, "state": state}),
            more=more,
            onward=_onward(self.request, rows) if more else "",
            found=found,
            about=about,
            chosen=chosen,
            problem=problem,
            opened=_opened(groups, what),
            subject=subject,
            state=state,
            states=STATES,
            overdue=found.number(DueState.OVERDUE),
            soon=found.number(DueState.DUE_SOON),
            feed=self.request.build_absolute_uri(_feed_address(self.request.user, about)),
            done=[] if about or what else latest_marks(),
            can_mark=self.request.user.has_perm("program.prepare_submission"),
            **kwargs,
        )


def _asked_for(found: Deadlines, subject: str, state: str, what: str, day: str) -> list[Group]:
    """Return the deadlines by duty and day; of one duty and day (opened), one by one."""
    dues = [
        due
        for due in found.dues
        if subject in ("", due.subject.kind)
        and _stands(due.state(found.as_of), state)
        and what in ("", due.what)
        and day in ("", due.due_on.isoformat())
    ]
    return [Group((due,)) for due in dues] if what else grouped(dues)


def _stands(state: DueState, asked: str) -> bool:
    """Tell whether a deadline stands as was asked for."""
    if asked == PRESSES:
        return state in (DueState.OVERDUE, DueState.DUE_SOON)
    return asked in ("", state)


def _opened(groups: list[Group], what: str) -> Due | None:
    """Return the deadline that stands for the group that is opened."""
    return groups[0].first if what and groups else None


def _rows(groups: list[Group], as_of: date, asked: dict[str, str]) -> list[dict]:
    return [
        {
            "due": group.first,
            "number": group.number,
            "owner": duty_owner(group.first.rule_id),
            "rule": RULES.latest(group.first.rule_id).name,
            "open": urlencode(
                asked | {"what": group.first.what, "day": group.first.due_on.isoformat()}
            ),
            "state": group.state(as_of),
            "days": (group.first.due_on - as_of).days,
        }
        for group in groups
    ]


def _page(groups: list[Group], after: str) -> tuple[list[Group], int]:
    """Return a page behind the one with a key, and how many follow; else the first page."""
    keys = (number for number, group in enumerate(groups, 1) if group.key == after)
    start = next(keys, 0) if after else 0
    return groups[start : start + SHOWN], max(0, len(groups) - start - SHOWN)


def _onward(request, rows: list[Group]) -> str:
    """Return the address of the page behind these rows, with the same filters."""
    asked = request.GET.copy()
    asked["after"] = rows[-1].key
    return f"?{asked.urlencode()}"


def _chosen(request) -> tuple[str, Chosen | None, str]:
    """Return what the address asks about, the part of the record, and what is wrong with it."""
    about = request.GET.get("about", "").strip()
    try:
        return about, chosen_by(about) if about else None, ""
    except NothingFound as error:
        return about, None, str(error)


def _feed_address(user, about: str) -> str:
    said = {"user": user.pk, "key": _key(user)}
    token = signing.dumps(said | ({"about": about} if about else {}), salt=FEED_SALT)
    return reverse("deadline_feed", args=[token])


def _key(user) -> str:
    """Part of the session's hash, so that a changed password ends the feeds it had."""
    return user.get_session_auth_hash()[:16]


class DeadlineFeedView(View):
    """The calendar feed: its address is the key, for calendar programs that can't sign in."""

    def get(self, request, token):
        """Answer the calendar while the person's account is active and may see the boards."""
        try:
            said = signing.loads(token, salt=FEED_SALT)
        except signing.BadSignature as error:
            raise Http404 from error
        user = get_user_model().objects.filter(pk=said.get("user"), is_active=True).first()
        if (
            user is None
            or said.get("key") != _key(user)
            or not user.has_perm("program.view_boards")
        ):
            raise Http404
        return HttpResponse(
            _calendar(said.get("about", "")), content_type="text/calendar; charset=utf-8"
        )


def _calendar(about: str) -> str:
    """Return the feed of everything, or of what it was asked about; empty once that is gone."""
    try:
        found = deadlines_on(today(), chosen_by(about) if about else None)
    except NothingFound:
        found = Deadlines(today(), [], ())
    return to_ics(found.dues, found.as_of)


class DeadlineDoneView(Act):
    """Something that was due is done."""

    permission_required, form_class = "program.prepare_submission", DoneForm

    def keep(self, thing, given):
        done = deadline_done(**given, **self.dated())
        return f"Recorded: {done.what}, done on {day_told(done.done_on)}."

    def back(self, thing):
        return redirect(_back(self.request))


class DoneBackView(TakeBack):
    """Something is not done after all."""

    permission_required, model = "program.prepare_submission", DoneMark
    told = "Taken back: {row.what} is due again."

    def back(self, mark):
        return redirect("deadline_list")


class DoneProofView(Permitted, View):
    """The proof of something done."""

    def get(self, request, pk):
        proof = get_object_or_404(DoneMark, pk=pk, document__isnull=False).document
        return document_sent(proof)


def _back(request) -> str:
    """The page that the form was on, with what it was about."""
    if period := number_given(request.POST.get("period", ""), "Period"):
        return reverse("sampling_period", args=[period])
    about = request.POST.get("about", "")
    return reverse("deadline_list") + (f"?{urlencode({'about': about})}" if about else "")
