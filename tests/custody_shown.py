"""Custody of a replaced line of the town: whole on page and paper, by digests anybody can redo."""

import csv
import hashlib
import io

from django.urls import reverse
from pypdf import PdfReader

from program.clock import today
from program.operations.sealing import proof_write
from program.queries.custody import Step, custody
from replacements.models import Replacement, StatementLine

PARTS = {
    "Evidence", "Order", "Consent", "Tool string", "Pull", "File", "Handed in", "Answer",
    "Replacement", "Payment", "Filed",
}  # fmt: skip


class CustodyShown:
    """To be mixed into a test that has a town and its people."""

    def test_custody_of_a_replaced_line_is_whole_on_page_and_paper(self):
        """Take a line that was pulled and paid; redo one digest from the files of the proof."""
        paid = StatementLine.objects.exclude(completion__pull=None)
        done = Replacement.objects.filter(completion__in=paid.values("completion")).first()
        steps = custody(done.line, today())
        assert {step.part for step in steps} >= PARTS
        assert all(step.who and step.at and len(step.sha256) == 64 for step in steps)
        assert [step.at for step in steps] == sorted(step.at for step in steps)
        assert all(step.seal for step in steps if not step.file and step.part != "Filed")
        self._as_in_the_proof(next(step for step in steps if step.part == "Replacement"), done)
        paper = self.clients["P"].get(reverse("custody_pdf", args=[done.line_id])).content
        text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages)
        assert all(step.sha256 in text.replace("\n", "") for step in steps)

    def _as_in_the_proof(self, step: Step, done: Replacement):
        from django.conf import settings

        folder = settings.DATA_DIR / "proof"
        proof_write(folder)
        with (folder / "replacements.Replacement.csv").open(encoding="utf-8", newline="") as file:
            row = next(row for row in csv.DictReader(file) if row["id"] == str(done.pk))
        written = io.StringIO()
        csv.writer(written, lineterminator="\n").writerow(row.values())
        assert hashlib.sha256(written.getvalue().encode()).hexdigest() == step.sha256
