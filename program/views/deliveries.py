"""Letters on their way: posted, handed over, come back, and what was recorded wrongly."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.views import View

from program.clock import today
from program.models import Notice, NoticeBatch, NoticeReturn
from program.notices.forms import (
    CorrectionForm,
    DeliveryForm,
    ReturnForm,
    ReturnsForm,
    WithdrawForm,
)
from program.notices.printing import came_back
from program.operations import deliveries
from program.operations.deadlines import proof_store
from services_inventory.sending import document_sent
from services_inventory.views.acts import Act

from .notices import NoticeView

SHOWN = 50  # letters named after a pile was recorded


class DeliveryActView(NoticeView, Act):
    """What a short form says of one thing, and back to it."""

    form_class = DeliveryForm
    model: type = Notice
    page = "notice"

    def moment(self) -> dict:
        """Return who does it and when."""
        return {**self.signed(), "as_of": today()}

    def proof(self, file):
        """Keep the proof of posting, if one was sent."""
        return file and proof_store(file=file, **self.signed())


class NoticeDeliverView(DeliveryActView):
    """One notice was handed over or sent."""

    def keep(self, notice, given):
        deliveries.notice_deliver(
            notice=notice, on=given["on"], means=given["means"], by=self.by, as_of=today()
        )
        return "Recorded as delivered."


class NoticeReturnView(DeliveryActView):
    """One letter came back."""

    form_class = ReturnForm

    def keep(self, notice, given):
        deliveries.notice_return(notice=notice, **given, **self.moment())
        return "Recorded. The notice is owed again, by its first day."


class NoticeCorrectView(DeliveryActView):
    """The delivery of one notice was recorded wrongly."""

    form_class = CorrectionForm

    def keep(self, notice, given):
        given.pop("proof")
        deliveries.delivery_correct(notice=notice, **given, **self.moment())
        return "The delivery was corrected; what stood before is kept beside it."


class ReturnSendAgainView(DeliveryActView):
    """Letters go to an address again from which one came back."""

    form_class, model = WithdrawForm, NoticeReturn

    def keep(self, returned, given):
        returns = came_back().filter(notice__line=returned.notice.line_id)
        deliveries.returns_send_again(returns=returns, why=given["why"], **self.signed())
        return "Letters to this address are printed again."

    def back(self, returned):
        return redirect("notice", returned.notice_id)


class ReturnWithdrawView(DeliveryActView):
    """A return was entered for the wrong letter."""

    form_class, model = WithdrawForm, NoticeReturn

    def keep(self, returned, given):
        deliveries.return_withdraw(returned=returned, why=given["why"], **self.signed())
        return "Taken back. The letter counts as delivered again."

    def back(self, returned):
        return redirect("notice", returned.notice_id)


class PrintingDeliverView(DeliveryActView):
    """The letters of a printing were posted, with proof."""

    model = NoticeBatch

    def keep(self, printing, given):
        given["proof"] = self.proof(given["proof"])
        number = deliveries.batch_deliver(notice_batch=printing, by=self.by, as_of=today(), **given)
        return f"{number:,} notices recorded as delivered."

    def back(self, printing):
        return redirect("notice_run", printing.batch_id)


class PrintingCorrectView(PrintingDeliverView):
    """The delivery of a printing was recorded wrongly, or its proof comes later."""

    form_class = CorrectionForm

    def keep(self, printing, given):
        given["proof"] = self.proof(given["proof"])
        done = deliveries.printing_correct(notice_batch=printing, **given, **self.moment())
        return f"Corrected for {done.notices:,} letters; what stood before is kept beside it."


class NoticeProofView(NoticeView, View):
    """The proof of posting of a printing."""

    def get(self, request, pk):
        printing = get_object_or_404(NoticeBatch, pk=pk, proof__isnull=False)
        proof = printing.proof
        return document_sent(proof)


class NoticeReturnsView(DeliveryActView):
    """A pile of letters that came back together: typed, or read from their bar codes."""

    form_class, model, page = ReturnsForm, None, "notice_returns"

    def get(self, request):
        """Show the form; its camera is asked for by a button."""
        form = ReturnsForm(initial={"on": today()})
        response = render(request, "program/notice_returns.html", {"form": form})
        response.needs_camera = True
        return response

    def keep(self, thing, given):
        done, refused = deliveries.notices_return(**given, **self.moment())
        for sentence in refused:
            messages.error(self.request, sentence)
        for notice in done[:SHOWN]:
            where = notice.line.premise.place or notice.line.location_id
            messages.info(self.request, f"N-{notice.pk}: {where}")
        if not done:
            return self.back(thing)
        return f"Recorded as come back: {len(done):,}."
