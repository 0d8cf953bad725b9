"""Letters on their way: posted, handed over, come back, and what was recorded wrongly."""

from django.contrib import messages
from django.http import FileResponse
from django.shortcuts import get_object_or_404, redirect
from django.views import View

from program.clock import now, today
from program.models import Notice, NoticeBatch, NoticeReturn
from program.notices.forms import (
    CorrectionForm,
    DeliveryForm,
    ReturnForm,
    ReturnsForm,
    WithdrawForm,
)
from program.notices.templates_text import NoticeError
from program.operations import deliveries
from program.operations.deadlines import proof_store
from services_inventory.operations.documents import DocumentRefused

from .notices import NoticeView


class DeliveryActView(NoticeView, View):
    """Keep what a short form says of one thing, and lead back to it."""

    form_class = DeliveryForm
    model = Notice

    def post(self, request, pk):
        """Keep it, or say why not."""
        thing = get_object_or_404(self.model, pk=pk)
        form = self.form_class(request.POST, request.FILES)
        if not form.is_valid():
            self.told(form)
            return self.back(thing)
        try:
            messages.success(request, self.keep(thing, form.cleaned_data))
        except (NoticeError, DocumentRefused) as error:
            messages.error(request, str(error))
        return self.back(thing)

    def keep(self, thing, given: dict) -> str:
        """Do it; return the sentence that says what was done."""
        raise NotImplementedError

    def back(self, thing):
        """Lead to the notice."""
        return redirect("notice", thing.pk)

    def moment(self) -> dict:
        """Return who does it and when."""
        return {"by": self.who(), "at": now(), "as_of": today()}

    def proof(self, file):
        """Keep the proof of posting, if one was sent."""
        return file and proof_store(file=file, by=self.who(), at=now())


class NoticeDeliverView(DeliveryActView):
    """One notice was handed over or sent."""

    def keep(self, notice, given):
        """Record the delivery."""
        deliveries.notice_deliver(
            notice=notice, on=given["on"], means=given["means"], by=self.who(), as_of=today()
        )
        return "Recorded as delivered."


class NoticeReturnView(DeliveryActView):
    """One letter came back."""

    form_class = ReturnForm

    def keep(self, notice, given):
        """Record the return."""
        deliveries.notice_return(notice=notice, **given, **self.moment())
        return "Recorded. The notice is owed again, by its first day."


class NoticeCorrectView(DeliveryActView):
    """The delivery of one notice was recorded wrongly."""

    form_class = CorrectionForm

    def keep(self, notice, given):
        """Put it right."""
        given.pop("proof")
        deliveries.delivery_correct(notice=notice, **given, **self.moment())
        return "The delivery was corrected; what stood before is kept beside it."


class ReturnWithdrawView(DeliveryActView):
    """A return was entered for the wrong letter."""

    form_class, model = WithdrawForm, NoticeReturn

    def keep(self, returned, given):
        """Take it back."""
        moment = {"by": self.who(), "at": now()}
        deliveries.return_withdraw(returned=returned, why=given["why"], **moment)
        return "Taken back. The letter counts as delivered again."

    def back(self, returned):
        """Lead to the letter."""
        return redirect("notice", returned.notice_id)


class PrintingDeliverView(DeliveryActView):
    """The letters of a printing were posted, with proof."""

    model = NoticeBatch

    def keep(self, printing, given):
        """Record day, means and proof."""
        given["proof"] = self.proof(given["proof"])
        number = deliveries.batch_deliver(
            notice_batch=printing, by=self.who(), as_of=today(), **given
        )
        return f"{number:,} notices recorded as delivered."

    def back(self, printing):
        """Lead to the printing."""
        return redirect("notice_run", printing.batch_id)


class PrintingCorrectView(PrintingDeliverView):
    """The delivery of a printing was recorded wrongly, or its proof comes later."""

    form_class = CorrectionForm

    def keep(self, printing, given):
        """Put it right for all letters that stand as it said."""
        given["proof"] = self.proof(given["proof"])
        done = deliveries.printing_correct(notice_batch=printing, **given, **self.moment())
        return f"Corrected for {done.notices:,} letters; what stood before is kept beside it."


class NoticeProofView(NoticeView, View):
    """The proof of posting of a printing."""

    def get(self, request, pk):
        printing = get_object_or_404(NoticeBatch, pk=pk, proof__isnull=False)
        proof = printing.proof
        return FileResponse(proof.file.open("rb"), as_attachment=True, filename=proof.name)


class NoticeReturnsView(NoticeView, View):
    """A pile of letters that came back together."""

    def post(self, request):
        """Record each; name those that could not be."""
        form = ReturnsForm(request.POST)
        if not form.is_valid():
            self.told(form)
            return redirect("notice_list")
        moment = {"by": self.who(), "at": now(), "as_of": today()}
        done, refused = deliveries.notices_return(**form.cleaned_data, **moment)
        if done:
            messages.success(request, f"{len(done):,} letters recorded as come back.")
        for sentence in refused:
            messages.error(request, sentence)
        return redirect("notice_list")
