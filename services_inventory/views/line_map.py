"""The map of the record: the filters of the inventory list, drawn, and lines chosen by a shape."""

from django.http import JsonResponse
from django.views import View
from django.views.generic import TemplateView

from ..filters import FILTERS, choose
from ..models import Neighborhood
from ..queries.lines import Survey, neighborhood_names
from ..queries.map_points import map_answer
from ..queries.neighborhoods import MEASURES
from ..queries.within import BadShape, shape_given
from .lines import field, told
from .permitted import Permitted

HIGHEST = 22


class LineMapView(Permitted, TemplateView):
    """The lines that the filters in the address keep, on a map as high as the window."""

    template_name = "services_inventory/line_map.html"

    def get_context_data(self, **kwargs):
        """Give the filters, what they keep in words and numbers, and where to begin."""
        query = self.request.GET
        chosen, names = choose(query), neighborhood_names()
        shape = chosen.values.get("within", [None])[0]
        return super().get_context_data(
            **told(Survey(chosen), names, in_full=query.get("count") == "full"),
            chosen=chosen,
            fields=[field(row, chosen, names) for row in FILTERS if row.key != "category"],
            state=chosen.address(),
            all_query=chosen.address(category=""),
            outside=chosen.address(within=""),
            bounds=shape.bounds if shape else (),
            measures=MEASURES,
            has_boundaries=Neighborhood.objects.filter(boundary_wkb__isnull=False).exists(),
            **kwargs,
        )


class MapAnswerView(Permitted, View):
    """The lines in view, one by one or counted by square, as the filters keep them."""

    def get(self, request):
        """Answer a box west,south,east,north in degrees at a zoom."""
        try:
            zoom = float(request.GET.get("zoom") or 0)
            box = shape_given({"box": request.GET.get("box")})
        except (BadShape, ValueError):
            box = None
        if box is None or not 0 <= zoom <= HIGHEST:
            said = "Give box=west,south,east,north in degrees, and a zoom from 0 to 22."
            return JsonResponse({"error": said}, status=400)
        return JsonResponse(map_answer(choose(request.GET), box.bounds, zoom))
