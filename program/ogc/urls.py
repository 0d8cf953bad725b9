"""Addresses of the public service."""

from services_inventory.page_loading import loaded_when_asked, path

with loaded_when_asked(__name__):
    from program.ogc import views
app_name = "ogc"
urlpatterns = [
    path("", views.landing, name="landing"),
    path("conformance", views.conformance, name="conformance"),
    path("api", views.api, name="api"),
    path("collections", views.collection_list, name="collections"),
    path("collections/<str:collection_id>", views.collection, name="collection"),
    path("collections/<str:collection_id>/items", views.items, name="items"),
    path("collections/<str:collection_id>/items/<str:feature_id>", views.item, name="item"),
]
