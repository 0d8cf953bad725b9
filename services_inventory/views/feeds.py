"""Regular sources: saving one, what each of its files changed, and answering one that waits."""

from django import forms
from django.contrib import messages
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.views import View
from django.views.generic import TemplateView

from ..models import Batch, Feed
from ..operations.feeds import FeedRefused, feed_answer, feed_change, feed_save
from ..queries.feeds import feed_files, feeds_shown, files_to_save, folder_of
from ..today import now
from .accepting import accepted
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


class FeedListView(IntakeView, TemplateView):
    """The sources, and the form for a new one."""

    template_name = "services_inventory/feed_list.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give both."""
        return super().get_context_data(feeds=feeds_shown(), form=self.form or FeedForm(), **kwargs)

    def post(self, request):
        """Save a new source."""
        self.form = FeedForm(request.POST)
        by = request.user.get_username()
        made = accepted(
            self.form,
            lambda data: feed_save(
                name=data["name"], batch=Batch.objects.get(pk=data["batch"]),
                most_percent=data["most_percent"], by=by, at=now(),
            ),
            FeedRefused,
        )  # fmt: skip
        if made is None:
            return self.render_to_response(self.get_context_data(), status=422)
        messages.success(request, "Saved. Put its files into the folder named below.")
        return redirect("feed", made.pk)


class FeedView(IntakeView, TemplateView):
    """One source: its folder, and what each file changed."""

    template_name = "services_inventory/feed.html"

    def setup(self, request, *args, **kwargs):
        """Load the source, not a batch."""
        View.setup(self, request, *args, **kwargs)
        self.batch = self.feed = Feed.objects.filter(pk=kwargs["pk"]).first()

    def get_context_data(self, **kwargs):
        """Give the source, its files and the form of what may be changed."""
        feed, files = self.feed, feed_files(self.feed)
        given = {"most_percent": feed.most_percent, "watched": feed.watched}
        return super().get_context_data(
            feed=feed, folder=folder_of(feed), files=files, form=ChangeForm(initial=given),
            waiting=[one for one in files if one.state == Batch.State.CHECKED], **kwargs,
        )  # fmt: skip

    def post(self, request, pk):
        """Change the share, or whether its folder is watched."""
        form = ChangeForm(request.POST)
        if form.is_valid():
            feed_change(feed=self.feed, **form.cleaned_data)
            messages.success(request, "Kept.")
        else:
            messages.error(request, "Write a share from 0 to 100 percent.")
        return redirect("feed", pk)


class FeedAnswerView(IntakeView, View):
    """A file that waits, accepted or refused with a reason."""

    def post(self, request, pk):
        """Do either."""
        feed = self.batch.parameters.get("feed")
        if feed is None:
            raise Http404
        accept = request.POST.get("answer") == "accept"
        try:
            feed_answer(
                batch=self.batch, accept=accept, reason=request.POST.get("reason", ""),
                by=request.user.get_username(), at=now(),
            )  # fmt: skip
        except FeedRefused as error:
            messages.error(request, str(error))
        else:
            told = "Being taken in." if accept else "Refused; nothing of it is kept."
            messages.success(request, told)
        return redirect("feed", get_object_or_404(Feed, pk=feed).pk)
