"""Samples of a pull while it happens, in small posts that may repeat."""

from drf_spectacular.utils import extend_schema
from rest_framework.response import Response

from services_inventory.today import now

from ...domain.live_pull import Sample
from ...operations.pulls import live_samples_take
from ...queries.live import state_of
from ..base import DeviceView
from ..described import Described
from ..problems import refused_as
from ..serializers import LiveInSerializer, LiveSerializer


class LiveSamples(DeviceView):
    """Where a device sends what it measures; each sample counts once by its sequence."""

    schema = Described()

    @extend_schema(
        summary="Send samples of a pull that is going on",
        request=LiveInSerializer,
        responses={200: LiveSerializer},
    )
    def post(self, request, pk: int):
        """Take the samples and tell what the page says of them."""
        order, given = self.order(pk), self.taken(LiveInSerializer)
        at = now()
        with refused_as("feed-refused", 409):
            feed, new = live_samples_take(
                work_order=order,
                key=given["feed"],
                samples=[Sample(**sample) for sample in given["samples"]],
                ended=given["ended"],
                by=request.user.get_username(),
                at=at,
            )
        state = state_of(feed, at)
        told = {
            "new": new,
            "repeated": len(given["samples"]) - new,
            "last_sequence": feed.last_sequence,
            "word": state.word.value,
            "sentences": state.sentences,
        }
        return Response(LiveSerializer(told).data)
