"""Addresses of the API."""

from services_inventory.page_loading import loaded_when_asked, path, re_path

with loaded_when_asked(__name__):
    from replacements.api.views import access, estimates, live, orders, records, schema, tools

urlpatterns = [
    path("schema/", schema.Schema, name="api_schema"),
    path("device/", orders.Device, name="api_device"),
    path("work-orders/", orders.WorkOrderList, name="api_orders"),
    path("work-orders/<int:pk>/", orders.WorkOrderDetail, name="api_order"),
    path("work-orders/<int:pk>/access/", access.AccessDetail, name="api_access"),
    path("work-orders/<int:pk>/attempts/", access.AttemptList, name="api_attempts"),
    path("work-orders/<int:pk>/consents/", access.ConsentList, name="api_consents"),
    path("work-orders/<int:pk>/appointments/", access.AppointmentList, name="api_appointments"),
    path("appointments/<int:pk>/closing/", access.AppointmentClose, name="api_appointment_close"),
    path("work-orders/<int:pk>/start/", orders.WorkOrderStart, name="api_start"),
    path("work-orders/<int:pk>/tool-strings/", tools.ToolStringList, name="api_strings"),
    path("work-orders/<int:pk>/estimates/", estimates.EstimateList, name="api_estimates"),
    path("work-orders/<int:pk>/pulls/", records.PullList, name="api_pulls"),
    path("work-orders/<int:pk>/live/", live.LiveSamples, name="api_live"),
    path("work-orders/<int:pk>/photos/", records.PhotoList, name="api_photos"),
    path("work-orders/<int:pk>/completions/", records.CompletionList, name="api_completions"),
    path("components/", tools.ComponentList, name="api_components"),
    path("tool-strings/<int:pk>/", tools.ToolStringDetail, name="api_string"),
    path("tool-strings/<int:pk>/answers/", tools.ToolStringAnswers, name="api_answers"),
    path("pulls/<int:pk>/", records.PullDetail, name="api_pull"),
    path("completions/<int:pk>/", records.CompletionDetail, name="api_completion"),
    re_path(r"", orders.Nowhere, name="api_nowhere"),
]
