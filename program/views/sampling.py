"""Tap samples: periods, a laboratory's results, the 90th percentile, what follows from it."""

from django import forms
from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.utils.timezone import localtime
from django.views import View
from django.views.generic import TemplateView

from program.clock import now, today
from program.domain.deadlines import Due
from program.domain.sampling_tiers import sample_count
from program.models import Exceedance, Invalidation, ResultFile, SamplingPeriod, TapResult
from program.operations import sampling as operations
from program.operations.invitations import invitations_owe
from program.operations.sampling import Doubtful, RowsRefused, laboratory_read
from program.queries import sampling as queries
from program.queries.done_marks import standing_marks
from program.queries.invitations import invitations_due
from program.rules import rules_in_force
from program.sampling_forms import (
    ExceedanceForm,
    InvalidationForm,
    PeriodForm,
    ResultFileForm,
)
from program.utility import the_utility
from services_inventory.forms.reasons import TakeBackForm
from services_inventory.refused import Refused
from services_inventory.sending import document_sent
from services_inventory.uploading import as_path

from .acts import Act, PageAct, TakeBack
from .permitted import Permitted
from .tables import streamed_table

SHOWN, ROWS_SHOWN = 12, 400


class SamplingView(Permitted, TemplateView):
    """Every period with its 90th percentile, the laboratory's files, and the forms."""

    template_name = "program/sampling.html"
    form = None
    problems: tuple = ()

    def get_context_data(self, **kwargs):
        rules, periods = rules_in_force(), queries.periods_shown()
        standing = [one for one in periods if one.withdrawn_at is None]
        rows = queries.compliance_results(standing[:SHOWN])
        return super().get_context_data(
            periods=[
                {"period": one, "lead": queries.ranked(one, "LEAD", rules, rows)}
                for one in standing[:SHOWN]
            ],
            more=standing[SHOWN:],
            gone=[one for one in periods if one.withdrawn_at],
            files=queries.files_shown(),
            in_no_period=queries.in_no_period(),
            problems=self.problems[:ROWS_SHOWN],
            number_of_problems=len(self.problems),
            period_form=PeriodForm(initial={"required": _sites_asked(rules)}),
            file_form=self.form or ResultFileForm(initial={"received_on": today()}),
            can_record=self.request.user.has_perm("program.record_samples"),
            **kwargs,
        )


def _sites_asked(rules) -> int | None:
    utility = the_utility()
    population = utility.population if utility else 0
    return sample_count(population, today(), rules=rules) if population else None


class ResultFileNewView(PageAct, SamplingView):
    """A laboratory's file is taken in as a whole, or its rows are named that can't be."""

    permission_required = "program.record_samples"
    http_method_names = ["post"]
    form_class = ResultFileForm

    @classmethod
    def read_ahead(cls, request):
        """Read the file before the database is held; `keep` says why it can't be read."""
        form = ResultFileForm(request.POST, request.FILES)
        if request.user.has_perm(cls.permission_required) and form.is_valid():
            request.reading = _reading(form.cleaned_data)

    def field_of(self, error):
        """Lead to the field to look at; rows that can't be read are listed besides."""
        self.problems = error.problems if isinstance(error, RowsRefused) else ()
        return "confirmed" if isinstance(error, Doubtful) else "file"

    def keep(self, thing, given):
        reading = getattr(self.request, "reading", None) or _reading(given)
        if isinstance(reading, Refused):
            raise reading
        given["file"].seek(0)
        made = operations.results_take_in(
            reading=reading, file=given["file"], name=given["file"].name,
            received_on=given["received_on"], confirmed=given["confirmed"], **self.dated(),
        )  # fmt: skip
        for note in made.notes:
            messages.info(self.request, note)
        letters = made.results.filter(metal="LEAD").values("line", "sampled_on").distinct().count()
        told = (
            f"Taken in: {len(reading.results):,} results. {letters:,} letters to the households "
            "are on the list of notices."
        )
        return self.done(told, "sampling")


def _reading(given: dict):
    """Return what a file says, or the refusal itself."""
    with as_path(given["file"]) as path:
        try:
            return laboratory_read(
                path=path, unit=given["unit"], purpose=given["purpose"], as_of=today()
            )
        except Refused as error:
            return error


class PeriodView(Permitted, TemplateView):
    """One period: the ranked list of each metal, what follows, every result."""

    template_name = "program/sampling_period.html"

    def get_context_data(self, pk, **kwargs):
        period = get_object_or_404(SamplingPeriod, pk=pk)
        rules, rows = rules_in_force(), queries.compliance_results([period])
        metals = [queries.ranked(period, metal, rules, rows) for metal in queries.METALS]
        learned = list(period.exceedances.order_by("-id"))
        standing = {one.metal: one for one in learned if one.withdrawn_at is None}
        results = queries.results_of(period)
        return super().get_context_data(
            period=period,
            metals=metals,
            results=results[:ROWS_SHOWN],
            aside_ids={
                row.pk for row in results if any(one.withdrawn_at is None for one in row.set_aside)
            },
            number_of_results=len(results),
            learned=learned,
            above=_above(period, metals, standing),
            learns=bool(standing),
            repeated="LEAD" in standing and queries.repeated(standing["LEAD"], rules),
            dues=_dues(period, rules),
            grounds=Invalidation.Ground.choices,
            can_record=self.request.user.has_perm("program.record_samples"),
            can_mark=self.request.user.has_perm("program.prepare_submission"),
            **kwargs,
        )


def _above(period: SamplingPeriod, metals: list, standing: dict) -> list[tuple]:
    """Return (metal, its exceedance, the form to record one) of each that is or was above."""
    start = {"learned_at": localtime(now())}
    return [
        (one, standing.get(one.metal), ExceedanceForm(initial=start, auto_id=f"id_{one.metal}_%s"))
        for one in metals
        if one.metal in standing or (one.exceeded and not period.withdrawn_at)
    ]


def _dues(period: SamplingPeriod, rules) -> list[dict]:
    """Return what is due because of a period, with the mark of what is done."""
    marks = {mark.key: mark for mark in standing_marks()}
    dues: list[Due] = [
        due for fact in queries.period_facts(period) for due in fact.dues(today(), rules)
    ]
    return [{"due": due, "mark": marks.get(due.key), "state": due.state(today())} for due in dues]


class PeriodCsvView(Permitted, View):
    """A period's results as a file, those set aside with the reason."""

    def get(self, request, pk):
        period = get_object_or_404(SamplingPeriod, pk=pk)
        name = f"tap-samples-{period.first_day}-to-{period.last_day}.csv"
        return streamed_table(queries.RESULT_COLUMNS, queries.result_rows(period), name)


class ResultFileView(Permitted, View):
    """A laboratory's file as it came."""

    permission_required = "program.record_samples"

    def get(self, request, pk):
        return document_sent(get_object_or_404(ResultFile, pk=pk).document)


class SamplingAct(Act):
    """One act of these pages."""

    permission_required = "program.record_samples"
    form_class = TakeBackForm
    model = SamplingPeriod
    page = "sampling_period"


class PeriodNewView(SamplingAct):
    """A monitoring period."""

    form_class, model, page = PeriodForm, None, "sampling"

    def keep(self, thing, given):
        made = operations.period_record(**given, **self.signed())
        told = "Recorded. Look at its sites before it begins; the calendar says until when."
        return self.done(told, "sampling_period", made.pk)


class PeriodBackView(SamplingAct):
    """A period is taken back."""

    def keep(self, period, given):
        operations.period_withdraw(period=period, **given, **self.signed())
        return "Taken back. Its results stay on record."


class ResultFileBackView(SamplingAct):
    """A laboratory's file is taken back."""

    model = ResultFile

    def keep(self, file, given):
        sent = operations.results_withdraw(file=file, **given, **self.signed())
        told = f" {sent:,} letters had gone out: tell these households." if sent else ""
        return f"Taken back with all its results; letters not sent yet are called off.{told}"

    def back(self, file):
        return redirect("sampling")


class _OfResult(SamplingAct):
    def back(self, thing):
        """Lead to the period of the day, or the list."""
        result = thing if isinstance(thing, TapResult) else thing.result
        period = queries.period_of(result.sampled_on)
        return redirect("sampling_period", period.pk) if period else redirect("sampling")


class ResultAsideView(_OfResult):
    """A result does not count."""

    form_class, model = InvalidationForm, TapResult

    def keep(self, result, given):
        operations.result_invalidate(result=result, **given, **self.dated())
        return "Set aside. It stays readable, and counts no longer."


class ResultAgainView(_OfResult):
    """A result counts again."""

    model = Invalidation

    def keep(self, aside, given):
        operations.invalidation_withdraw(aside=aside, **given, **self.signed())
        return "It counts again."


class ExceedanceNewView(SamplingAct):
    """An exceedance was learned."""

    form_class = ExceedanceForm

    def keep(self, period, given):
        operations.exceedance_record(period=period, **given, **self.signed())
        return "Recorded. What is due now stands under What follows."


class ExceedanceBackView(TakeBack):
    """An exceedance was not learned after all."""

    permission_required, model = "program.record_samples", Exceedance
    told = "Taken back; its clocks have ended."

    def back(self, exceedance):
        return redirect("sampling_period", exceedance.period_id)


class InvitationListView(Permitted, TemplateView):
    """Homes whose line was replaced, to be invited to a sample."""

    template_name = "program/sampling_invitations.html"

    def get_context_data(self, **kwargs):
        rows = invitations_due(today(), rules_in_force())
        return super().get_context_data(
            rows=rows[:ROWS_SHOWN],
            number=len(rows),
            to_invite=sum(row["can_invite"] for row in rows),
            can_record=self.request.user.has_perm("program.record_samples"),
            **kwargs,
        )  # fmt: skip


class InvitationOweView(SamplingAct):
    """The invitations go onto the list of letters."""

    form_class, model, page = forms.Form, None, "sampling_invitations"

    def keep(self, thing, given):
        number = invitations_owe(as_of=today(), by=self.by)
        return f"{number:,} invitations are on the list of notices to print."
