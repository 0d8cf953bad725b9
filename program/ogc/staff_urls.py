"""Addresses of the same service for staff, signed in or by HTTP Basic."""

from services_inventory.page_loading import loaded_when_asked, path

with loaded_when_asked(__name__):
    from program.ogc import views
app_name = "ogc_staff"
_STAFF = {"staff": True}
urlpatterns = [
    path("", views.landing, _STAFF, name="landing"),
    path("conformance", views.conformance, _STAFF, name="conformance"),
    path("api", views.api, _STAFF, name="api"),
    path("collections", views.collection_list, _STAFF, name="collections"),
    path("collections/<str:collection_id>", views.collection, _STAFF, name="collection"),
    path("collections/<str:collection_id>/items", views.items, _STAFF, name="items"),
    path("collections/<str:collection_id>/items/<str:feature_id>", views.item, _STAFF, name="item"),
]
