"""A pull while it happens: the page, what it shows each second, and what becomes of the feed."""

from django.http import JsonResponse
from django.shortcuts import get_object_or_404, render

from services_inventory.sending import attached
from services_inventory.today import now

from ..operations.pulls import PullRefused, live_feed_end, live_feed_keep
from ..queries.live import KEEP_DAYS, feed_csv, feeds_shown, live_now
from .scope import DO, WorkView


class LiveView(WorkView):
    """The page that is read from ten feet."""

    def get(self, request, pk):
        """Show the frame; its script fills it each second."""
        order = self.order()
        context = {"order": order, "feeds": feeds_shown(order), "keep_days": KEEP_DAYS}
        return render(request, "replacements/live.html", context)


class LiveNowView(WorkView):
    """What may be said of the pull now."""

    def get(self, request, pk):
        answer = JsonResponse(live_now(self.order(), now()))
        answer["Cache-Control"] = "no-store"
        return answer


class LiveFeedView(WorkView):
    """Ending a feed, or making it the pull's log."""

    permissions = DO

    def post(self, request, pk, feed, action):
        found = get_object_or_404(self.order().live_feeds, pk=feed)
        if action == "end":
            live_feed_end(feed=found, by=self.by, at=now())
            return self.done("The feed is ended.", "live_pull", pk)
        try:
            made = live_feed_keep(feed=found, by=self.by, at=now())
        except PullRefused as error:
            return self.refused(str(error), "live_pull", pk)
        told = f"The feed is the pull's log: {made.peak_lbf or 0:,.0f} lb at most, {made.verdict}."
        return self.done(told, "work_order", pk)


class LiveSamplesView(WorkView):
    """The samples of a feed as a pull log."""

    def get(self, request, pk, feed):
        order = self.order()
        found = get_object_or_404(order.live_feeds.filter(samples_removed_at=None), pk=feed)
        return attached(feed_csv(found), f"live-{order.number}-{found.pk}.csv", "text/csv")
