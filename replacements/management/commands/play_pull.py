"""Play a pull log into the live page of an order, for practice, at the pace it was pulled at."""

import time
from math import inf

from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from services_inventory.given import LONGEST
from services_inventory.today import now

from ...domain.hydraulics import BadCylinder
from ...domain.live_pull import Sample
from ...domain.pull_logs import Cylinder, PullLogError, read
from ...forms.pulls import cylinder_known
from ...models import WorkOrder
from ...operations.pulls import PullRefused, live_samples_take

POST_S = 1.0


class Command(BaseCommand):
    """Feed a log as if it were being pulled now; the page says that it is played."""

    help = "Plays a pull log into the live page of an order, for practice and for showing."

    def add_arguments(self, parser):
        parser.add_argument("log", metavar="FILE", help="CSV file of a pull")
        parser.add_argument(
            "--order", required=True, metavar="ID", help="number or id of the order"
        )
        parser.add_argument(
            "--speed", type=float, default=1.0, metavar="NUMBER", help="times faster"
        )

    def handle(self, *args, **options):
        """Read the log whole, then send what is due each second."""
        order, speed = _order(options["order"]), options["speed"]
        if not 1 <= speed < inf:
            raise CommandError("Say with --speed how many times faster, 1 or more.")
        samples = _samples(options["log"], order)
        self.stdout.write(f"Playing into {reverse('live_pull', args=[order.pk])} (Ctrl-C stops).")
        try:
            sent = self._play(order, samples, speed)
        except PullRefused as error:
            raise CommandError(str(error)) from error
        except KeyboardInterrupt:
            self.stdout.write("Stopped; the page now says that no sample comes.")
        else:
            self.stdout.write(f"{sent:,} samples played.")

    def _play(self, order: WorkOrder, samples: list[Sample], speed: float) -> int:
        key, began, sent = f"played {now():%Y-%m-%d %H:%M:%S}", time.monotonic(), 0
        while sent < len(samples):
            due_s = (time.monotonic() - began) * speed
            post = [s for s in samples[sent:] if s.time_s <= due_s] or samples[sent : sent + 1]
            sent += len(post)
            live_samples_take(
                work_order=order, key=key, samples=post, by="play_pull", at=now(),
                ended=sent == len(samples), played=True,
            )  # fmt: skip
            if sent < len(samples):
                next_s = began + samples[sent].time_s / speed - time.monotonic()
                time.sleep(max(0.0, next_s, POST_S if speed < 100 else 0.0))
        return sent


def _order(given: str) -> WorkOrder:
    orders = WorkOrder.objects.filter(number=given.replace("\0", ""))
    if given.isascii() and given.isdecimal() and len(given) <= LONGEST:
        orders |= WorkOrder.objects.filter(pk=int(given))
    order = orders.order_by("pk").first()
    if order is None:
        raise CommandError(f"There is no order {given[:60]}.")
    return order


def _samples(path: str, order: WorkOrder) -> list[Sample]:
    known = {name: value for name, value in cylinder_known(order).items() if value is not None}
    try:
        cylinder = Cylinder(**known) if known.get("bore_in") else None
        log = read(path, cylinder=cylinder)
    except (OSError, PullLogError, BadCylinder) as error:
        raise CommandError(str(error)) from error
    rows = zip(log.time_s, log.force_lbf, log.distance_ft, strict=True)
    return [Sample(place, *(float(value) for value in row)) for place, row in enumerate(rows)]
