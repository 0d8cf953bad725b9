"""Addresses of this app's pages."""

from django.urls import path

from .views import batches, neighbourhoods

urlpatterns = [
    path("intake/", batches.BatchListView.as_view(), name="batch_list"),
    path("intake/<int:pk>/", batches.BatchView.as_view(), name="batch"),
    path("intake/<int:pk>/columns/", batches.ColumnsView.as_view(), name="batch_columns"),
    path("intake/<int:pk>/progress/", batches.BatchProgressView.as_view(), name="batch_progress"),
    path("intake/<int:pk>/held/", batches.HeldFileView.as_view(), name="batch_held"),
    path(
        "intake/<int:pk>/apply/",
        batches.BatchActionView.as_view(),
        {"action": "apply"},
        name="batch_apply",
    ),
    path(
        "intake/<int:pk>/stop/",
        batches.BatchActionView.as_view(),
        {"action": "stop"},
        name="batch_stop",
    ),
    path(
        "intake/<int:pk>/undo/",
        batches.BatchActionView.as_view(),
        {"action": "undo"},
        name="batch_undo",
    ),
    path(
        "neighbourhoods/", neighbourhoods.NeighbourhoodListView.as_view(), name="neighbourhood_list"
    ),
    path(
        "neighbourhoods.csv",
        neighbourhoods.NeighbourhoodCsvView.as_view(),
        name="neighbourhood_csv",
    ),
    path(
        "neighbourhoods/shapes.json",
        neighbourhoods.NeighbourhoodShapesView.as_view(),
        name="neighbourhood_shapes",
    ),
    path(
        "neighbourhoods/<int:pk>/",
        neighbourhoods.NeighbourhoodDetailView.as_view(),
        name="neighbourhood",
    ),
    path("points.json", neighbourhoods.PointsView.as_view(), name="line_points"),
]
