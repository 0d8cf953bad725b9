"""A package's page, and what is downloaded from it."""

from django.db.models import Count, Q
from django.http import Http404, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.utils.text import slugify

from services_inventory.given import number_given
from services_inventory.queries.keyset import part_of
from services_inventory.sending import attached, pdf_shown
from services_inventory.today import now, today
from services_inventory.views.acts import Act

from ..completion.views import workbook
from ..models import WorkOrder, WorkPackage
from ..operations.many_orders import orders_call_off
from ..queries.readiness import certificates_ready
from ..views.scope import PLAN, WorkView, in_crew_words
from .given import PACK_ORDERS
from .map_files import geojson_of, gpx_of

SHOWN = 8  # orders listed at once
_OPEN = Q(work_orders__state__in=("RELEASED", "RETURNED"))


class PackageView(WorkView):
    """A page of packages within the user's scope."""

    def packages(self):
        """Return the packages that this user may see."""
        rows = WorkPackage.objects.select_related("contractor")
        if self.company:
            return rows.filter(contractor=self.company)
        seen = self.request.user.has_perm("replacements.view_all_work")
        return rows if seen else rows.none()

    def package(self) -> WorkPackage:
        """Return the package of the address; another company's answers 404."""
        return get_object_or_404(self.packages(), pk=self.kwargs["pk"])

    def orders(self, package: WorkPackage):
        """Return the package's orders that this user may see, by street as one would drive."""
        return (
            WorkOrder.objects.visible_to(self.request.user)
            .filter(package=package)
            .select_related("line__premise", "contractor", "crew")
            .order_by("line__premise__street_key", "line__premise__house_number", "id")
        )

    def open_orders(self, package: WorkPackage):
        """Return those that are still to be done: not planned only, not handed in or over."""
        return self.orders(package).filter(state__in=("RELEASED", "RETURNED"))


class PackageListView(PackageView):
    """The packages."""

    def get(self, request):
        rows = self.packages().annotate(
            orders=Count("work_orders", filter=~Q(work_orders__state="CALLED_OFF")),
            waiting=Count("work_orders", filter=_OPEN),
            done=Count("work_orders", filter=Q(work_orders__state="ACCEPTED")),
        )
        context = {"packages": rows.order_by("-year", "-id")[:200], "company": self.company}
        return render(request, "replacements/package_list.html", context)


class PackageDetailView(PackageView):
    """One package: list and map of its orders."""

    def get(self, request, pk):
        package = self.package()
        orders = list(self.orders(package)[:1000])
        part, after = part_of(orders, request.GET.get("after", ""), SHOWN)
        parts = range(0, len(self.open_orders(package)), PACK_ORDERS) if orders else ()
        papers = certificates_ready(package.contractor, today())
        context = {
            "package": package,
            "orders": orders,
            "part": part,
            "after": after,
            "placed": sum(1 for order in orders if order.line.premise.latitude is not None),
            "length_ft": sum(order.length_ft or 0 for order in orders),
            "parts": [(n, f"from order {start + 1}") for n, start in enumerate(parts, start=1)],
            "not_ready": [item.sentence for item in papers if not item.ready],
            "company": self.company,
            "planned": self._planned(orders),
        }
        return render(request, "replacements/package.html", context)

    def _planned(self, orders) -> int:
        """How many this user may call off together."""
        may = any(map(self.request.user.has_perm, PLAN))
        return sum(order.state == WorkOrder.State.PLANNED for order in orders) if may else 0


class PackageCallOffView(Act, PackageView):
    """Call off all orders of a package that are planned and not released."""

    permissions, page = PLAN, "package"

    def keep(self, thing, given):
        orders = WorkOrder.objects.filter(package=self.package())
        reason = self.request.POST.get("reason", "")
        number = orders_call_off(orders=orders, reason=reason, **self.signed())
        many = "order is" if number == 1 else "orders are"
        return f"{number:,} planned {many} called off."


class PackagePackView(PackageView):
    """The print pack."""

    def get(self, request, pk):
        """Send a part of the pack; the first unless told otherwise."""
        package = self.package()
        part = number_given(request.GET.get("part"), "Part of the pack") or 1
        start = (part - 1) * PACK_ORDERS
        if start and start >= self.open_orders(package).count():
            raise Http404
        orders = list(self.open_orders(package)[start : start + PACK_ORDERS])
        from .print_pack import print_pack  # draws PDFs: loaded when the first is asked for

        with in_crew_words(request):
            content = print_pack(package, orders, today())
        return pdf_shown(content, f"{_name(package)}-{part}.pdf")


class PackageFormView(PackageView):
    """The record form."""

    def get(self, request, pk):
        package = self.package()
        orders = self.open_orders(package)
        from .record_form import form_of_orders  # writes workbooks: loaded when needed

        return workbook(form_of_orders(orders, package.name), f"{_name(package)}.xlsx")


class PackageGeoJsonView(PackageView):
    """The orders as GeoJSON."""

    def get(self, request, pk):
        package = self.package()
        response = JsonResponse(geojson_of(self.orders(package), package.name),
                                content_type="application/geo+json")  # fmt: skip
        if "map" not in request.GET:
            response["Content-Disposition"] = f'attachment; filename="{_name(package)}.geojson"'
        return response


class PackageGpxView(PackageView):
    """The orders as GPX."""

    def get(self, request, pk):
        package = self.package()
        content = gpx_of(self.open_orders(package), package.name, now())
        return attached(content, f"{_name(package)}.gpx", "application/gpx+xml")


def _name(package: WorkPackage) -> str:
    return slugify(package.name)[:60] or f"package-{package.pk}"
