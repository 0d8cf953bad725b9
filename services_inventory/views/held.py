"""Held rows of a file: by reason, mended in a table, or downloaded and uploaded corrected."""

from django.contrib import messages
from django.http import FileResponse
from django.shortcuts import redirect, render
from django.template.defaultfilters import pluralize
from django.urls import reverse
from django.utils.dateparse import parse_datetime
from django.utils.http import urlencode
from django.views import View

from services_inventory.refused import Refused

from ..given import number_given
from ..intake.columns import BadColumnMap
from ..intake.reading import UnreadableFile
from ..operations.mending import (
    held_bring_back,
    held_leave_out,
    held_mend,
    held_replace,
    held_upload,
    mended_take_in,
)
from ..queries.held import held_file, held_groups, held_table, left_out_acts
from ..today import now
from ..uploading import as_path
from .acts import Act
from .batches import IntakeView


class HeldFileView(IntakeView, View):
    """The held rows as a file in the uploaded format, to be corrected and sent again."""

    def get(self, request, pk):
        left_out = request.GET.get("which") == "left-out"
        path = held_file(self.batch, left_out=left_out)
        if path is None:
            told = "left out" if left_out else "held"
            messages.info(request, f"No row of this batch was {told}.")
            return redirect(reverse("batch", args=[pk]))
        return FileResponse(path.open("rb"), as_attachment=True, filename=path.name)


class HeldAct(IntakeView, Act):
    """What is done with held rows: on the batch, and back to the table that was looked at."""

    def thing(self, pk) -> dict:
        return {"batch": self.batch, **self.signed()}

    def back(self, thing):
        names = ("why", "after", "all")
        place = {name: self.request.POST[name] for name in names if self.request.POST.get(name)}
        address = reverse("held_mend", args=[self.batch.pk])
        return redirect(f"{address}?{urlencode(place)}" if place else address)


class HeldMendView(HeldAct):
    """Rows held for one reason as a table; what is typed is kept and read again."""

    def get(self, request, pk):
        groups = held_groups(self.batch)
        chosen = [one for one in groups if one.key == request.GET.get("why")] or groups[:1]
        after = number_given(request.GET.get("after"), "The row") or 0
        context = {
            "batch": self.batch, "groups": groups, "group": chosen[0] if chosen else None,
            "after": after, "whole": bool(request.GET.get("all")), "now": now().isoformat(),
            "mended": sum(one.mended for one in groups), "acts": left_out_acts(self.batch),
        }  # fmt: skip
        if chosen:
            rows = [row for row in chosen[0].rows if row > after]
            try:
                context |= {"table": held_table(self.batch, rows, whole=context["whole"])}
            except (UnreadableFile, BadColumnMap, OSError, ValueError) as error:
                context |= {"problem": f"The file can't be read any more. {error}"}
        return render(request, "services_inventory/batch_held.html", context)

    def keep(self, act, given):
        post = self.request.POST
        seen = parse_datetime(post.get("seen", ""))
        changed = held_mend(**act, typed=_typed(post), seen=seen)
        told = f"{changed:,} row{pluralize(changed)} kept and read again; see the marks."
        return told if changed else "Nothing was changed, so nothing was kept."


def _typed(sent) -> dict[int, dict[int, str]]:
    """Return the texts of the cells: {row: {place: text}}."""
    typed: dict[int, dict[int, str]] = {}
    for name in sent:
        if name.startswith("c-"):
            row, _, at = name[2:].partition("-")
            place = number_given(at, "The cell") or 0
            typed.setdefault(number_given(row, "The row") or 0, {})[place] = sent[name]
    return typed


class HeldReplaceView(HeldAct):
    """One text for another in a column, in every row of one reason, as if typed in each."""

    def keep(self, act, given):
        post = self.request.POST
        group = {one.key: one for one in held_groups(self.batch)}.get(post.get("why", ""))
        place = number_given(post.get("place"), "The column")
        if group is None or place is None:
            raise Refused("Choose a column; the rows of that reason may be gone.")
        changed = held_replace(
            **act, rows=group.rows, at_place=place, old=post.get("old", ""),
            new=post.get("new", ""),
        )  # fmt: skip
        return f"Put into {changed:,} row{pluralize(changed)}. Not taken in yet."


class HeldUploadView(HeldAct):
    """The downloaded file of held rows, corrected: as if typed into the table."""

    def keep(self, act, given):
        if "file" not in self.request.FILES:
            raise Refused("Choose the corrected file.")
        with as_path(self.request.FILES["file"]) as path:
            return _uploaded(**held_upload(**act, path=path))


def _uploaded(mended: int, others: int) -> str:
    """Say what a corrected file held."""
    told = f"{mended:,} row{pluralize(mended)} of the file {pluralize(mended, 'differs,differ')}"
    told += f" and {pluralize(mended, 'stands,stand')} below as typed. Not taken in yet."
    if others:
        waits, was = pluralize(others, "waits,wait"), pluralize(others, "was,were")
        told += f" {others:,} row{pluralize(others)} of it {waits} here no longer"
        told += f" and {was} left out."
    return told


class HeldLeaveOutView(HeldAct):
    """Rows set aside for a reason: those that are marked, or all of one reason."""

    def keep(self, act, given):
        post = self.request.POST
        rows = [number_given(row, "The row") or 0 for row in post.getlist("row")]
        if post.get("which") == "all":
            why = post.get("why")
            rows = [row for one in held_groups(self.batch) if one.key == why for row in one.rows]
        number = held_leave_out(**act, rows=rows, reason=post.get("reason", ""))
        return f"{number:,} row{pluralize(number, ' is,s are')} left out, and listed below."


class HeldBringBackView(HeldAct):
    """Rows that were left out, waiting again."""

    def keep(self, act, given):
        number = held_bring_back(batch=self.batch, act=self.request.POST.get("act", ""))
        return f"{number:,} row{pluralize(number, ' waits,s wait')} again."


class MendedTakeInView(HeldAct):
    """Taking in the mended rows that can be read, as a file of their own."""

    def keep(self, act, given):
        made, number, left = mended_take_in(**act)
        told = f"{number:,} mended row{pluralize(number, ' is,s are')} being taken in."
        if left:
            told += f" {left:,} more can’t be read yet and wait with what was typed."
        return self.done(told, "batch", made.pk)
