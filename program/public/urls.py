"""Addresses of the public pages; the language stands in the address, so that pages can be kept."""

from django.conf import settings
from django.urls import include, register_converter

from services_inventory.page_loading import loaded_when_asked, path

with loaded_when_asked(__name__):
    from program.public import data, inquiries, pages, plan


class Language:
    """One of the languages that the public pages are in."""

    regex = "[a-z]{2,3}(?:-[a-z]+)?"

    def to_python(self, value: str) -> str:
        """Take the code of a language that there is."""
        if value not in dict(settings.LANGUAGES):
            raise ValueError(f"no language {value}")
        return value

    def to_url(self, value: str) -> str:
        """Write the code as it is."""
        return value


register_converter(Language, "spoken")
app_name = "public"
_pages = [
    path("", pages.start, name="start"),
    path("line/<path:location_id>/", pages.line, name="line"),
    path("map/", pages.map_page, name="map"),
    path("categories/", pages.categories, name="categories"),
    path("streets/", pages.streets, name="streets"),
    path("download/", pages.download, name="download"),
    path("tell-us/", inquiries.tell_us, name="tell_us"),
    path("thanks/", inquiries.thanks, name="thanks"),
]
urlpatterns = [
    path("", pages.choose_language, name="home"),
    path("suggest.json", data.suggest, name="suggest"),
    path("points.json", data.points, name="points"),
    path("areas.json", data.areas, name="areas"),
    path("service-lines.csv", data.as_csv, name="csv"),
    path("service-lines.geojson", data.as_geojson, name="geojson"),
    path("service-lines.gpkg", data.as_geopackage, name="geopackage"),
    path("data-dictionary.csv", data.dictionary, name="dictionary"),
    path("replacement-plan.pdf", plan.replacement_plan, name="plan"),
    path("<spoken:language>/", include(_pages)),
]
