"""Regular sources: saving one, what each of its files changed, and answering one that waits."""

from django import forms
from django.shortcuts import get_object_or_404, redirect
from django.views.generic import TemplateView

from ..models import Batch, Feed
from ..operations.feeds import feed_answer, feed_change, feed_save
from ..queries.feeds import feed_files, feeds_shown, files_to_save, folder_of
from .acts import Act, PageAct
from .batches import IntakeView


class ShareForm(forms.Form):
    """From which share of the lines a person looks first."""

    most_percent = forms.IntegerField(
        label="A person looks where more than this share of the lines would change, in %",
        min_value=0, max_value=100, initial=10, help_text="Proposed here: 10.",
    )  # fmt: skip


class FeedForm(ShareForm):
    """A new source, read as a file was that came already."""

    field_order = ("name", "batch", "most_percent")
    name = forms.CharField(
        label="Name of the source", max_length=80, help_text="Such as GIS export, weekly."
    )
    batch = forms.ChoiceField(
        label="Read as this file was",
        help_text="With its columns, sheet and where facts come from.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["batch"].choices = [
            (str(one.pk), f"{one.file_name} (batch {one.pk})") for one in files_to_save()
        ]


class ChangeForm(ShareForm):
    """What of a source may be changed."""

    watched = forms.BooleanField(label="Take files from its folder", required=False)


class FeedListView(PageAct, IntakeView, TemplateView):
    """The sources, and the form for a new one."""

    template_name = "services_inventory/feed_list.html"
    form_class, form = FeedForm, None

    def get_context_data(self, **kwargs):
        return super().get_context_data(feeds=feeds_shown(), form=self.form or FeedForm(), **kwargs)

    def keep(self, thing, given):
        given["batch"] = Batch.objects.get(pk=given["batch"])
        made = feed_save(**given, **self.signed())
        told = "Saved. Put its files into the folder named below."
        return self.done(told, "feed", made.pk)


class FeedView(Act, IntakeView, TemplateView):
    """One source: its folder, and what each file changed."""

    template_name = "services_inventory/feed.html"
    form_class, model, page = ChangeForm, Feed, "feed"

    def get_context_data(self, pk, **kwargs):
        """Give the source, its files and the form of what may be changed."""
        feed = get_object_or_404(Feed, pk=pk)
        given, files = (
            {"most_percent": feed.most_percent, "watched": feed.watched},
            feed_files(feed),
        )
        return super().get_context_data(
            feed=feed, folder=folder_of(feed), files=files, form=ChangeForm(initial=given),
            waiting=[one for one in files if one.state == Batch.State.CHECKED], **kwargs,
        )  # fmt: skip

    def keep(self, feed, given):
        """Change the share, or whether its folder is watched."""
        feed_change(feed=feed, **given)
        return "Kept."


class FeedAnswerView(IntakeView, Act):
    """A file that waits, accepted or refused with a reason."""

    def thing(self, pk) -> Feed:
        return get_object_or_404(Feed, pk=self.batch.parameters.get("feed"))

    def keep(self, feed, given):
        accept = self.request.POST.get("answer") == "accept"
        reason = self.request.POST.get("reason", "")
        feed_answer(batch=self.batch, accept=accept, reason=reason, **self.signed())
        return "Being taken in." if accept else "Refused; nothing of it is kept."

    def back(self, feed):
        return redirect("feed", feed.pk)
