"""Addresses of the API."""

from services_inventory.page_loading import pages_in, path, re_path

access = pages_in("replacements.api.views.access")
estimates = pages_in("replacements.api.views.estimates")
live = pages_in("replacements.api.views.live")
orders = pages_in("replacements.api.views.orders")
records = pages_in("replacements.api.views.records")
schema = pages_in("replacements.api.views.schema")
tools = pages_in("replacements.api.views.tools")

urlpatterns = [
    path("schema/", schema.Schema.as_view(), name="api_schema"),
    path("device/", orders.Device.as_view(), name="api_device"),
    path("work-orders/", orders.WorkOrderList.as_view(), name="api_orders"),
    path("work-orders/<int:pk>/", orders.WorkOrderDetail.as_view(), name="api_order"),
    path("work-orders/<int:pk>/access/", access.AccessDetail.as_view(), name="api_access"),
    path("work-orders/<int:pk>/attempts/", access.AttemptList.as_view(), name="api_attempts"),
    path("work-orders/<int:pk>/consents/", access.ConsentList.as_view(), name="api_consents"),
    path(
        "work-orders/<int:pk>/appointments/",
        access.AppointmentList.as_view(),
        name="api_appointments",
    ),
    path(
        "appointments/<int:pk>/closing/",
        access.AppointmentClose.as_view(),
        name="api_appointment_close",
    ),
    path("work-orders/<int:pk>/start/", orders.WorkOrderStart.as_view(), name="api_start"),
    path("work-orders/<int:pk>/tool-strings/", tools.ToolStringList.as_view(), name="api_strings"),
    path("work-orders/<int:pk>/estimates/", estimates.EstimateList.as_view(), name="api_estimates"),
    path("work-orders/<int:pk>/pulls/", records.PullList.as_view(), name="api_pulls"),
    path("work-orders/<int:pk>/live/", live.LiveSamples.as_view(), name="api_live"),
    path("work-orders/<int:pk>/photos/", records.PhotoList.as_view(), name="api_photos"),
    path(
        "work-orders/<int:pk>/completions/",
        records.CompletionList.as_view(),
        name="api_completions",
    ),
    path("components/", tools.ComponentList.as_view(), name="api_components"),
    path("tool-strings/<int:pk>/", tools.ToolStringDetail.as_view(), name="api_string"),
    path("tool-strings/<int:pk>/answers/", tools.ToolStringAnswers.as_view(), name="api_answers"),
    path("pulls/<int:pk>/", records.PullDetail.as_view(), name="api_pull"),
    path("completions/<int:pk>/", records.CompletionDetail.as_view(), name="api_completion"),
    re_path(r"", orders.Nowhere.as_view(), name="api_nowhere"),
]
