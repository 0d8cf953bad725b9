"""Addresses of this app's pages."""

from services_inventory.page_loading import pages_in, path, re_path

devices = pages_in("replacements.api.pages")
drops = pages_in("replacements.completion.views")
packages = pages_in("replacements.packages.views")
payments = pages_in("replacements.payments.views")
phone = pages_in("replacements.phone.views")
access = pages_in("replacements.views.access")
completions = pages_in("replacements.views.completions")
contractors = pages_in("replacements.views.contractors")
ground = pages_in("replacements.views.ground")
learning = pages_in("replacements.views.learning")
line_access = pages_in("replacements.views.line_access")
live = pages_in("replacements.views.live")
orders = pages_in("replacements.views.orders")
pulls = pages_in("replacements.views.pulls")
reinspections = pages_in("replacements.views.reinspections")
sheets = pages_in("replacements.views.sheets")
tool_life = pages_in("replacements.views.tool_life")
tools = pages_in("replacements.views.tools")

urlpatterns = [
    path("orders/", orders.OrderListView, name="work_order_list"),
    path("orders/new/", orders.OrderNewView, name="work_order_new"),
    path("orders/<int:pk>/", orders.OrderView, name="work_order"),
    path("orders/<int:pk>/change/", orders.OrderEditView, name="work_order_edit"),
    path("orders/<int:pk>/again/", orders.OrderAgainView, name="work_order_again"),
    path("orders/<int:pk>/release/", orders.OrderReleaseView, name="work_order_release"),
    path("orders/<int:pk>/call-off/", orders.OrderCallOffView, name="work_order_call_off"),
    path("orders/<int:pk>/attempt/", access.AttemptView, name="work_order_attempt"),
    path("orders/<int:pk>/consent/", access.ConsentView, name="work_order_consent"),
    path("orders/<int:pk>/person/", access.PersonView, name="work_order_person"),
    path(
        "orders/<int:pk>/person/<int:person>/left/",
        access.PersonLeftView,
        name="work_order_person_left",
    ),
    path("orders/<int:pk>/appointment/", access.AppointmentView, name="work_order_appointment"),
    path(
        "orders/<int:pk>/appointment/<int:appointment>/close/",
        access.AppointmentCloseView,
        name="work_order_appointment_close",
    ),
    path("orders/<int:pk>/nearby/", ground.NearbyLineNewView, name="nearby_line_new"),
    path("orders/<int:pk>/nearby/<int:line>/", ground.NearbyLineView, name="nearby_line"),
    path("orders/<int:pk>/string/", tools.StringEntryView, name="work_order_string"),
    path("orders/<int:pk>/checklist/", tools.ChecklistView, name="work_order_checklist"),
    path("orders/<int:pk>/estimate/", pulls.EstimateView, name="work_order_estimate"),
    path("orders/<int:pk>/start/", pulls.StartView, name="work_order_start"),
    path(
        "orders/<int:pk>/start/withdraw/", pulls.StartWithdrawView, name="work_order_start_withdraw"
    ),
    path("orders/<int:pk>/pull/", pulls.PullUploadView, name="work_order_pull"),
    path("orders/<int:pk>/pull/<int:pull>/withdraw/", pulls.PullWithdrawView, name="pull_withdraw"),
    path("orders/<int:pk>/live/", live.LiveView, name="live_pull"),
    path("orders/<int:pk>/live/now/", live.LiveNowView, name="live_pull_now"),
    path("orders/<int:pk>/live/<int:feed>/samples.csv", live.LiveSamplesView, name="live_samples"),
    re_path(
        r"^orders/(?P<pk>\d+)/live/(?P<feed>\d+)/(?P<action>end|keep)/$",
        live.LiveFeedView,
        name="live_feed",
    ),
    path("orders/<int:pk>/pull/<int:pull>/explain/", pulls.PullExplainView, name="pull_explain"),
    path("orders/<int:pk>/live/<int:feed>/explain/", pulls.LiveExplainView, name="live_explain"),
    path(
        "orders/<int:pk>/explanation/<int:explanation>/withdraw/",
        pulls.PullExplanationWithdrawView,
        name="pull_explanation_withdraw",
    ),
    path("orders/<int:pk>/completion/", completions.CompletionView, name="work_order_completion"),
    path(
        "orders/<int:pk>/take-back/",
        completions.CompletionTakeBackView,
        name="completion_take_back",
    ),
    path("orders/<int:pk>/job-sheet.pdf", sheets.SheetView, name="job_sheet"),
    path("orders/<int:pk>/string-sheet.pdf", sheets.StringSheetView, name="string_sheet"),
    path("lines/<int:pk>/access/", line_access.LineAccessView, name="line_access"),
    re_path(
        r"^lines/(?P<pk>\d+)/access/(?P<action>attempt|answer|owner)/$",
        line_access.LineAccessActView,
        name="line_access_act",
    ),
    path(
        "owner-changes/<int:pk>/withdraw/",
        line_access.OwnerChangeWithdrawView,
        name="owner_change_withdraw",
    ),
    path("review/", completions.ReviewQueueView, name="review_queue"),
    path("review/<int:pk>/", completions.ReviewView, name="review"),
    path("reinspections/", reinspections.ReinspectionListView, name="reinspection_list"),
    path("reinspections/<int:pk>/", reinspections.ReinspectionsView, name="reinspections"),
    path(
        "reinspections/picks/<int:pk>/",
        reinspections.ReinspectionResultView,
        name="reinspection_result",
    ),
    path("tools/", tools.ComponentListView, name="component_list"),
    path("tools/new/", tools.ComponentNewView, name="component_new"),
    path("tools/labels.pdf", sheets.LabelsView, name="component_labels"),
    path("tools/<int:pk>/", tools.ComponentView, name="component"),
    path("tools/sets/", tool_life.ToolSetListView, name="tool_set_list"),
    path("tools/sets/<int:pk>/", tool_life.ToolSetView, name="tool_set"),
    re_path(
        r"^tools/(?P<pk>\d+)/(?P<action>renewal|paper|photo|confirm|withdraw)/$",
        tool_life.ComponentActView,
        name="component_act",
    ),
    path("tools/<int:pk>/correct/", tools.ComponentCorrectView, name="component_correct"),
    path("learning/", learning.LearningListView, name="learning_list"),
    path("learning/constants/", learning.ConstantsView, name="force_constants"),
    path("learning/<str:soil>/", learning.LearningView, name="learning"),
    path("contractors/", contractors.ReadinessListView, name="readiness_list"),
    path("contractors/<int:pk>/", contractors.ReadinessView, name="readiness"),
    path("documents/<int:pk>/", completions.DocumentView, name="work_document"),
    path("packages/", packages.PackageListView, name="package_list"),
    path("packages/<int:pk>/", packages.PackageDetailView, name="package"),
    path("packages/<int:pk>/pack.pdf", packages.PackagePackView, name="package_pack"),
    path("packages/<int:pk>/form.xlsx", packages.PackageFormView, name="package_form"),
    path("packages/<int:pk>/orders.geojson", packages.PackageGeoJsonView, name="package_geojson"),
    path("packages/<int:pk>/orders.gpx", packages.PackageGpxView, name="package_gpx"),
    path("drops/", drops.DropListView, name="drop_list"),
    path("drops/<int:pk>/", drops.DropDetailView, name="drop"),
    path("drops/<int:pk>/progress/", drops.DropProgressView, name="drop_progress"),
    path("drops/<int:pk>/returned.xlsx", drops.DropReturnedView, name="drop_returned"),
    path("drops/<int:pk>/stop/", drops.DropStopView, name="drop_stop"),
    path("devices/", devices.DeviceListView, name="device_list"),
    path("devices/<int:pk>/shut-out/", devices.DeviceShutOutView, name="device_shut_out"),
    path("phone/", phone.PhoneView, name="phone"),
    path("phone/worker.js", phone.PhoneWorkerView, name="phone_worker"),
    path("phone/forms.json", phone.PhoneFormsView, name="phone_forms"),
    path("phone/orders.json", phone.PhoneOrders, name="phone_orders"),
    path("phone/send/<int:pk>/start/", phone.PhoneStart, name="phone_start"),
    path("phone/send/<int:pk>/checklist/", phone.PhoneChecklist, name="phone_checklist"),
    path("phone/send/<int:pk>/record/", phone.PhoneRecord, name="phone_record"),
    path("payments/", payments.PaymentListView, name="payment_list"),
    path("payments/<int:pk>/", payments.PaymentView, name="payments"),
    re_path(
        r"^payments/(?P<pk>\d+)/(?P<kind>item|terms|change|statement)/$",
        payments.PaymentWriteView,
        name="payment_write",
    ),
    path("statements/<int:pk>/", payments.StatementView, name="statement"),
    path("statement-rows/<int:pk>/note/", payments.StatementNoteView, name="statement_note"),
    path(
        "statements/<int:pk>/statement.xlsx",
        payments.StatementWorkbookView,
        name="statement_workbook",
    ),
]
