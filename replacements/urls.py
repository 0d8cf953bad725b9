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
    path("orders/", orders.OrderListView.as_view(), name="work_order_list"),
    path("orders/new/", orders.OrderNewView.as_view(), name="work_order_new"),
    path("orders/<int:pk>/", orders.OrderView.as_view(), name="work_order"),
    path("orders/<int:pk>/change/", orders.OrderEditView.as_view(), name="work_order_edit"),
    path("orders/<int:pk>/again/", orders.OrderAgainView.as_view(), name="work_order_again"),
    path("orders/<int:pk>/release/", orders.OrderReleaseView.as_view(), name="work_order_release"),
    path(
        "orders/<int:pk>/call-off/", orders.OrderCallOffView.as_view(), name="work_order_call_off"
    ),
    path("orders/<int:pk>/attempt/", access.AttemptView.as_view(), name="work_order_attempt"),
    path("orders/<int:pk>/consent/", access.ConsentView.as_view(), name="work_order_consent"),
    path("orders/<int:pk>/person/", access.PersonView.as_view(), name="work_order_person"),
    path(
        "orders/<int:pk>/person/<int:person>/left/",
        access.PersonLeftView.as_view(),
        name="work_order_person_left",
    ),
    path(
        "orders/<int:pk>/appointment/",
        access.AppointmentView.as_view(),
        name="work_order_appointment",
    ),
    path(
        "orders/<int:pk>/appointment/<int:appointment>/close/",
        access.AppointmentCloseView.as_view(),
        name="work_order_appointment_close",
    ),
    path("orders/<int:pk>/nearby/", ground.NearbyLineNewView.as_view(), name="nearby_line_new"),
    path("orders/<int:pk>/nearby/<int:line>/", ground.NearbyLineView.as_view(), name="nearby_line"),
    path("orders/<int:pk>/string/", tools.StringEntryView.as_view(), name="work_order_string"),
    path("orders/<int:pk>/checklist/", tools.ChecklistView.as_view(), name="work_order_checklist"),
    path("orders/<int:pk>/estimate/", pulls.EstimateView.as_view(), name="work_order_estimate"),
    path("orders/<int:pk>/start/", pulls.StartView.as_view(), name="work_order_start"),
    path(
        "orders/<int:pk>/start/withdraw/",
        pulls.StartWithdrawView.as_view(),
        name="work_order_start_withdraw",
    ),
    path("orders/<int:pk>/pull/", pulls.PullUploadView.as_view(), name="work_order_pull"),
    path(
        "orders/<int:pk>/pull/<int:pull>/withdraw/",
        pulls.PullWithdrawView.as_view(),
        name="pull_withdraw",
    ),
    path("orders/<int:pk>/live/", live.LiveView.as_view(), name="live_pull"),
    path("orders/<int:pk>/live/now/", live.LiveNowView.as_view(), name="live_pull_now"),
    path(
        "orders/<int:pk>/live/<int:feed>/samples.csv",
        live.LiveSamplesView.as_view(),
        name="live_samples",
    ),
    re_path(
        r"^orders/(?P<pk>\d+)/live/(?P<feed>\d+)/(?P<action>end|keep)/$",
        live.LiveFeedView.as_view(),
        name="live_feed",
    ),
    path(
        "orders/<int:pk>/pull/<int:pull>/explain/",
        pulls.PullExplainView.as_view(),
        name="pull_explain",
    ),
    path(
        "orders/<int:pk>/live/<int:feed>/explain/",
        pulls.LiveExplainView.as_view(),
        name="live_explain",
    ),
    path(
        "orders/<int:pk>/explanation/<int:explanation>/withdraw/",
        pulls.PullExplanationWithdrawView.as_view(),
        name="pull_explanation_withdraw",
    ),
    path(
        "orders/<int:pk>/completion/",
        completions.CompletionView.as_view(),
        name="work_order_completion",
    ),
    path(
        "orders/<int:pk>/take-back/",
        completions.CompletionTakeBackView.as_view(),
        name="completion_take_back",
    ),
    path("orders/<int:pk>/job-sheet.pdf", sheets.SheetView.as_view(), name="job_sheet"),
    path("orders/<int:pk>/string-sheet.pdf", sheets.StringSheetView.as_view(), name="string_sheet"),
    path("lines/<int:pk>/access/", line_access.LineAccessView.as_view(), name="line_access"),
    re_path(
        r"^lines/(?P<pk>\d+)/access/(?P<action>attempt|answer|owner)/$",
        line_access.LineAccessActView.as_view(),
        name="line_access_act",
    ),
    path(
        "owner-changes/<int:pk>/withdraw/",
        line_access.OwnerChangeWithdrawView.as_view(),
        name="owner_change_withdraw",
    ),
    path("review/", completions.ReviewQueueView.as_view(), name="review_queue"),
    path("review/<int:pk>/", completions.ReviewView.as_view(), name="review"),
    path("reinspections/", reinspections.ReinspectionListView.as_view(), name="reinspection_list"),
    path(
        "reinspections/<int:pk>/", reinspections.ReinspectionsView.as_view(), name="reinspections"
    ),
    path(
        "reinspections/picks/<int:pk>/",
        reinspections.ReinspectionResultView.as_view(),
        name="reinspection_result",
    ),
    path("tools/", tools.ComponentListView.as_view(), name="component_list"),
    path("tools/new/", tools.ComponentNewView.as_view(), name="component_new"),
    path("tools/<int:pk>/", tools.ComponentView.as_view(), name="component"),
    path("tools/sets/", tool_life.ToolSetListView.as_view(), name="tool_set_list"),
    path("tools/sets/<int:pk>/", tool_life.ToolSetView.as_view(), name="tool_set"),
    re_path(
        r"^tools/(?P<pk>\d+)/(?P<action>renewal|paper|confirm|withdraw)/$",
        tool_life.ComponentActView.as_view(),
        name="component_act",
    ),
    path("tools/<int:pk>/correct/", tools.ComponentCorrectView.as_view(), name="component_correct"),
    path("learning/", learning.LearningListView.as_view(), name="learning_list"),
    path("learning/constants/", learning.ConstantsView.as_view(), name="force_constants"),
    path("learning/<str:soil>/", learning.LearningView.as_view(), name="learning"),
    path("contractors/", contractors.ReadinessListView.as_view(), name="readiness_list"),
    path("contractors/<int:pk>/", contractors.ReadinessView.as_view(), name="readiness"),
    path("documents/<int:pk>/", completions.DocumentView.as_view(), name="work_document"),
    path("packages/", packages.PackageListView.as_view(), name="package_list"),
    path("packages/<int:pk>/", packages.PackageDetailView.as_view(), name="package"),
    path("packages/<int:pk>/pack.pdf", packages.PackagePackView.as_view(), name="package_pack"),
    path("packages/<int:pk>/form.xlsx", packages.PackageFormView.as_view(), name="package_form"),
    path(
        "packages/<int:pk>/orders.geojson",
        packages.PackageGeoJsonView.as_view(),
        name="package_geojson",
    ),
    path("packages/<int:pk>/orders.gpx", packages.PackageGpxView.as_view(), name="package_gpx"),
    path("drops/", drops.DropListView.as_view(), name="drop_list"),
    path("drops/<int:pk>/", drops.DropDetailView.as_view(), name="drop"),
    path("drops/<int:pk>/progress/", drops.DropProgressView.as_view(), name="drop_progress"),
    path("drops/<int:pk>/returned.xlsx", drops.DropReturnedView.as_view(), name="drop_returned"),
    path("drops/<int:pk>/stop/", drops.DropStopView.as_view(), name="drop_stop"),
    path("devices/", devices.DeviceListView.as_view(), name="device_list"),
    path("devices/<int:pk>/shut-out/", devices.DeviceShutOutView.as_view(), name="device_shut_out"),
    path("phone/", phone.PhoneView.as_view(), name="phone"),
    path("phone/worker.js", phone.PhoneWorkerView.as_view(), name="phone_worker"),
    path("phone/forms.json", phone.PhoneFormsView.as_view(), name="phone_forms"),
    path("phone/orders.json", phone.PhoneOrders.as_view(), name="phone_orders"),
    path("phone/send/<int:pk>/start/", phone.PhoneStart.as_view(), name="phone_start"),
    path("phone/send/<int:pk>/checklist/", phone.PhoneChecklist.as_view(), name="phone_checklist"),
    path("phone/send/<int:pk>/record/", phone.PhoneRecord.as_view(), name="phone_record"),
    path("payments/", payments.PaymentListView.as_view(), name="payment_list"),
    path("payments/<int:pk>/", payments.PaymentView.as_view(), name="payments"),
    re_path(
        r"^payments/(?P<pk>\d+)/(?P<kind>item|terms|change|statement)/$",
        payments.PaymentWriteView.as_view(),
        name="payment_write",
    ),
    path("statements/<int:pk>/", payments.StatementView.as_view(), name="statement"),
    path(
        "statements/<int:pk>/statement.xlsx",
        payments.StatementWorkbookView.as_view(),
        name="statement_workbook",
    ),
]
