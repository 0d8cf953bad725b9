"""The map page of a print pack: the places of the orders, numbered as in the list, to scale."""

import math
from collections.abc import Sequence

from reportlab.lib.colors import HexColor, black, white
from reportlab.platypus import Flowable

from ..models import WorkOrder
from ..sheets.page import WIDTH
from ..words import said

# Feet in a degree of latitude: a minute of latitude is a nautical mile of 1,852 m.
FEET_A_DEGREE = 60 * 1852 / 0.3048
_HIGH, _EDGE = 560, 18
_STEPS = (50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 50_000)


class PackMap(Flowable):
    """Numbered places, joined in driving order; north is up, streets are not drawn."""

    def __init__(self, orders: Sequence[WorkOrder]):
        super().__init__()
        self.places = [
            (number, order.line.premise.latitude, order.line.premise.longitude)
            for number, order in enumerate(orders, start=1)
            if order.line.premise.latitude is not None
        ]
        self.width = self.height = WIDTH
        if self.places:
            self.points, self.scale = self._on_paper()
            self.height = max(y for _, _, y in self.points) + 2 * _EDGE

    def draw(self) -> None:
        """Draw the frame, the way, the places and the scale."""
        canvas = self.canv
        canvas.rect(0, 0, self.width, self.height)
        points = self.points
        canvas.setStrokeColor(HexColor("#999999"))
        for (_, *here), (_, *there) in zip(points, points[1:], strict=False):
            canvas.line(*here, *there)
        size = 9 if len(points) <= 60 else 6
        canvas.setFont("Helvetica-Bold", size)
        for number, x, y in reversed(points):
            canvas.setStrokeColor(black)
            canvas.setFillColor(white)
            canvas.circle(x, y, size * 0.95, fill=1)
            canvas.setFillColor(black)
            canvas.drawCentredString(x, y - size * 0.35, str(number))
        self._draw_scale(self.scale)

    def _on_paper(self) -> tuple[list[tuple[int, float, float]], float]:
        """Return each place in points on paper, and the points of a foot."""
        lats, lons = [p[1] for p in self.places], [p[2] for p in self.places]
        squeeze = math.cos(math.radians(sum(lats) / len(lats)))
        room = self.width - 2 * _EDGE, _HIGH - 5 * _EDGE
        spans = (max(lons) - min(lons)) * squeeze, max(lats) - min(lats)
        fits = [r / span for r, span in zip(room, spans, strict=True) if span > 0]
        scale = min([*fits, room[0] * FEET_A_DEGREE / 200])  # never closer than 200 ft across
        points = [
            (number, _EDGE + (lon - min(lons)) * squeeze * scale,
             3 * _EDGE + (lat - min(lats)) * scale)
            for number, lat, lon in self.places
        ]  # fmt: skip
        return points, scale / FEET_A_DEGREE

    def _draw_scale(self, points_a_foot: float) -> None:
        canvas = self.canv
        feet = max((s for s in _STEPS if s * points_a_foot < self.width / 3), default=_STEPS[0])
        canvas.setStrokeColor(black)
        canvas.setLineWidth(2)
        canvas.line(_EDGE, _EDGE, _EDGE + feet * points_a_foot, _EDGE)
        canvas.setFont("Helvetica", 9)
        canvas.drawString(_EDGE, _EDGE + 5, said(f"{feet:,} ft"))
        canvas.drawRightString(self.width - _EDGE, _EDGE, said("North is up"))
