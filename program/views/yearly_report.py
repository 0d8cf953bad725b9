"""The statement for the consumer confidence report: facts of the record, prescribed words."""

from django.http import Http404
from django.shortcuts import redirect
from django.views.generic import TemplateView

from program.clock import today
from program.models import NoticeSlot
from program.notices.forms import SlotForm
from program.notices.printing import LANGUAGES
from program.operations.wording import report_slot_fill
from program.queries.yearly_report import KIND, prescribed_blocks, yearly_statement
from program.rules import rules_in_force
from services_inventory.given import number_given

from .acts import Act
from .permitted import Permitted


class YearlyReportView(Permitted, TemplateView):
    """The statement of a calendar year in each language, and the slots to fill."""

    template_name = "program/yearly_report.html"

    def get_context_data(self, **kwargs):
        """Give the year that the address asks for, or the one before the running one."""
        last = today().year
        year = number_given(self.request.GET.get("year"), "Year") or last - 1
        if not last - 10 <= year <= last:
            raise Http404
        statement = yearly_statement(year, today(), rules_in_force())
        return super().get_context_data(
            year=year,
            years=range(last, last - 5, -1),
            statement=[(code, LANGUAGES[code], rows) for code, rows in statement.items()],
            lacking=sum(bool(one.lacks) for rows in statement.values() for one in rows),
            slots=_slots() if self.request.user.has_perm("program.send_notices") else [],
            **kwargs,
        )


def _slots() -> list[dict]:
    kept = {(slot.slot, slot.language): slot for slot in NoticeSlot.objects.filter(kind=KIND)}
    rows = []
    for block in prescribed_blocks().values():
        for code, name in LANGUAGES.items():
            slot = kept.get((block["id"], code))
            said = {"text": slot.text, "taken_from": slot.taken_from} if slot else {}
            form = SlotForm(initial=said, auto_id=f"id_{block['id']}_{code}_%s")
            rows.append({"block": block, "code": code, "language": name, "slot": slot,
                         "form": form})  # fmt: skip
    return rows


class ReportSlotView(Act):
    """The prescribed words of one block in one language."""

    permission_required, form_class = "program.send_notices", SlotForm

    def thing(self, slot, language):
        return {"slot": slot, "language": language}

    def keep(self, thing, given):
        report_slot_fill(**thing, **given, **self.signed())
        return "Kept." if given["text"] else "Emptied."

    def back(self, thing):
        return redirect("yearly_report")
