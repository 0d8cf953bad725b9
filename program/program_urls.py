"""Addresses of the program's own pages: rate, plan, deadlines, notices, submissions."""

from services_inventory.page_loading import pages_in, path

customer_work = pages_in("program.views.customer_work")
deadlines = pages_in("program.views.deadlines")
deliveries = pages_in("program.views.deliveries")
inquiries = pages_in("program.views.inquiries")
layouts = pages_in("program.views.layouts")
line_panels = pages_in("program.views.line_panels")
notices = pages_in("program.views.notices")
own_values = pages_in("program.views.own_values")
people = pages_in("program.views.people")
plan_document = pages_in("program.views.plan_document")
rates = pages_in("program.views.rates")
rule_values = pages_in("program.views.rule_values")
submissions = pages_in("program.views.submissions")
tiers = pages_in("program.views.tiers")
wording = pages_in("program.views.wording")
plan_board = pages_in("program.views.plans.board")
plan_editing = pages_in("program.views.plans.editing")
plan_files = pages_in("program.views.plans.files")
plans = pages_in("program.views.plans.plan")

_REVISION = "submissions/<int:year>/r<int:revision>/"
_FROZEN = "plan/document/frozen/<int:number>"
_ELEMENT = "plan/document/elements/<slug:element>"
_VERSION = "layouts/<slug:layout_id>/v<int:version>/"

urlpatterns = [
    path("rate/", rates.RateView.as_view(), name="rate"),
    path("rate/freeze/", rates.PoolFreezeView.as_view(), name="pool_freeze"),
    path("rate/pools/<int:number>.csv", rates.PoolListView.as_view(), name="pool_list"),
    path("plan/", plan_board.PlanListView.as_view(), name="plan_list"),
    path("plan/board.csv", plan_board.PlanBoardCsvView.as_view(), name="plan_board_csv"),
    path("plan/board.json", plan_board.PlanBoardShapesView.as_view(), name="plan_board_shapes"),
    path("plan/new/", plan_board.PlanNewView.as_view(), name="plan_new"),
    path("plan/compare/", plan_board.PlanCompareView.as_view(), name="plan_compare"),
    path("plan/runs/<int:pk>/", plan_board.PlanRunView.as_view(), name="plan_run"),
    path(
        "plan/runs/<int:pk>/progress/", plan_board.PlanProgressView.as_view(), name="plan_progress"
    ),
    path("plan/runs/<int:pk>/stop/", plan_board.PlanStopView.as_view(), name="plan_stop"),
    path("plan/unknowns/", plan_files.PlanUnknownsView.as_view(), name="plan_unknowns"),
    path("plan/unknowns/draw/", plan_files.PlanInspectionsView.as_view(), name="plan_inspections"),
    path(
        "plan/unknowns/<int:pk>.csv",
        plan_files.PlanInspectionCsvView.as_view(),
        name="plan_inspection_csv",
    ),
    path("plan/<int:pk>/", plans.PlanView.as_view(), name="plan"),
    path("plan/<int:pk>/advice/", plan_board.PlanAdviceView.as_view(), name="plan_advice"),
    path("plan/<int:pk>/edit/", plan_editing.PlanEditView.as_view(), name="plan_edit"),
    path("plan/<int:pk>/edit/change/", plan_editing.PlanChangeView.as_view(), name="plan_change"),
    path("plan/<int:pk>/points.json", plan_editing.PlanPointsView.as_view(), name="plan_points"),
    path("plan/<int:pk>/shapes.json", plans.PlanShapesView.as_view(), name="plan_shapes"),
    path("plan/<int:pk>/areas.csv", plan_files.PlanCsvView.as_view(), name="plan_csv"),
    path("plan/<int:pk>/lines.csv", plan_files.PlanLinesView.as_view(), name="plan_lines_csv"),
    path("plan/<int:pk>/priority.csv", plan_files.PlanPriorityView.as_view(), name="plan_priority"),
    path(
        "plan/<int:pk>/calendar-<int:year>.csv",
        plan_files.PlanCalendarView.as_view(),
        name="plan_calendar",
    ),
    path(
        "plan/<int:pk>/calendar-<int:year>-crew-<int:crew>.ics",
        plan_files.PlanIcsView.as_view(),
        name="plan_ics",
    ),
    path("plan/<int:pk>/rest/<int:year>/", plans.PlanRestView.as_view(), name="plan_rest"),
    path("plan/<int:pk>/adopt/", plans.PlanAdoptView.as_view(), name="plan_adopt"),
    path("plan/<int:pk>/adopt/back/", plans.PlanAdoptionUndoView.as_view(), name="plan_adopt_undo"),
    path("plan/<int:pk>/orders/", plans.PlanOrdersView.as_view(), name="plan_orders"),
    path("plan/<int:pk>/areas/<int:area>/", plans.PlanAreaView.as_view(), name="plan_area"),
    *(
        path(
            f"plan/<int:pk>/areas/<int:area>/{action}/",
            plans.PlanAreaActView.as_view(),
            {"action": action},
            name=f"plan_{action}",
        )
        for action in ("lock", "unlock", "split", "merge")
    ),
    path("deadlines/", deadlines.DeadlineListView.as_view(), name="deadline_list"),
    path("deadlines/done/", deadlines.DeadlineDoneView.as_view(), name="deadline_done"),
    path(
        "deadlines/feed/<str:token>.ics", deadlines.DeadlineFeedView.as_view(), name="deadline_feed"
    ),
    path("plan/document/", plan_document.PlanDocumentView.as_view(), name="plan_document"),
    path(
        "plan/document/print.pdf",
        plan_document.PlanDocumentPrintView.as_view(),
        name="plan_document_print",
    ),
    path(
        "plan/document/freeze/",
        plan_document.PlanDocumentFreezeView.as_view(),
        name="plan_document_freeze",
    ),
    path(
        f"{_FROZEN}/", plan_document.PlanDocumentFrozenView.as_view(), name="plan_document_frozen"
    ),
    path(f"{_FROZEN}.pdf", plan_document.PlanDocumentFileView.as_view(), name="plan_document_file"),
    path(
        f"{_FROZEN}/publish/",
        plan_document.PlanDocumentPublishView.as_view(),
        name="plan_document_publish",
    ),
    path(f"{_FROZEN}/state/", plan_document.PlanStatementView.as_view(), name="plan_statement"),
    path(f"{_ELEMENT}/", plan_document.PlanElementView.as_view(), name="plan_element"),
    path(
        f"{_ELEMENT}/write/",
        plan_document.PlanElementWriteView.as_view(),
        name="plan_element_write",
    ),
    path(
        f"{_ELEMENT}/restore/<int:version>/",
        plan_document.PlanElementRestoreView.as_view(),
        name="plan_element_restore",
    ),
    path("people/", people.PeopleView.as_view(), name="people"),
    path("people/invite/", people.InviteView.as_view(), name="account_invite"),
    path("people/sign-ins/", people.SignInListView.as_view(), name="sign_in_list"),
    path("people/<int:pk>/", people.AccountView.as_view(), name="account"),
    path("people/<int:pk>/change/", people.AccountChangeView.as_view(), name="account_change"),
    path("people/<int:pk>/link/", people.AccountLinkView.as_view(), name="account_link"),
    path("people/companies/new/", people.CompanyWriteView.as_view(), name="company_new"),
    path("people/companies/<int:pk>/", people.CompanyView.as_view(), name="company"),
    path(
        "people/companies/<int:pk>/change/",
        people.CompanyWriteView.as_view(),
        name="company_change",
    ),
    path(
        "people/devices/<int:pk>/shut-out/",
        people.CompanyDeviceView.as_view(),
        name="company_device",
    ),
    path("layouts/", layouts.LayoutListView.as_view(), name="layout_list"),
    path("layouts/edit/", layouts.LayoutEditView.as_view(), name="layout_edit"),
    path("layouts/upload/", layouts.LayoutUploadView.as_view(), name="layout_upload"),
    path("layouts/<slug:layout_id>/", layouts.LayoutView.as_view(), name="layout"),
    path("layouts/<slug:layout_id>.toml", layouts.LayoutFileView.as_view(), name="layout_file"),
    path(f"{_VERSION}", layouts.LayoutView.as_view(), name="layout_version"),
    path(f"{_VERSION}restore/", layouts.LayoutRestoreView.as_view(), name="layout_restore"),
    path(f"{_VERSION}layout.toml", layouts.LayoutFileView.as_view(), name="layout_version_file"),
    path("submissions/", submissions.SubmissionListView.as_view(), name="submission_list"),
    path(
        "submissions/<int:year>/",
        submissions.SubmissionDraftView.as_view(),
        name="submission_draft",
    ),
    path(
        "submissions/<int:year>/freeze/",
        submissions.SubmissionFreezeView.as_view(),
        name="submission_freeze",
    ),
    path(
        "submissions/schema.json",
        submissions.SubmissionSchemaView.as_view(),
        name="submission_schema",
    ),
    path(
        f"{_REVISION}all.zip",
        submissions.SubmissionArchiveView.as_view(),
        name="submission_archive",
    ),
    path(f"{_REVISION}paper/", submissions.SubmissionPaperView.as_view(), name="submission_paper"),
    path(
        "submissions/progress/<int:pk>/",
        submissions.SubmissionProgressView.as_view(),
        name="submission_progress",
    ),
    path(_REVISION, submissions.SubmissionView.as_view(), name="submission"),
    path(
        f"{_REVISION}certify/",
        submissions.SubmissionCertifyView.as_view(),
        name="submission_certify",
    ),
    path(f"{_REVISION}amend/", submissions.SubmissionAmendView.as_view(), name="submission_amend"),
    path(
        f"{_REVISION}verify/", submissions.SubmissionVerifyView.as_view(), name="submission_verify"
    ),
    path(
        f"{_REVISION}files/<slug:kind>/",
        submissions.SubmissionFileView.as_view(),
        name="submission_file",
    ),
    path("rule/", rule_values.RuleListView.as_view(), name="rule_values"),
    path("rule/<slug:rule_id>/", rule_values.RuleView.as_view(), name="rule_value"),
    path("rule/<slug:rule_id>/tick/", rule_values.RuleTickView.as_view(), name="rule_tick"),
    path("rule/<slug:rule_id>/own/", rule_values.RuleOwnView.as_view(), name="rule_own"),
    path("utility/", own_values.UtilityView.as_view(), name="utility"),
    path(
        "own-values/<int:pk>/end/",
        own_values.OwnRowView.as_view(),
        {"act": "end"},
        name="own_value_end",
    ),
    path(
        "own-values/<int:pk>/take-back/",
        own_values.OwnRowView.as_view(),
        {"act": "withdraw"},
        name="own_value_withdraw",
    ),
    path("rehearsals/<int:pk>/", own_values.RehearsalView.as_view(), name="rehearsal"),
    path(
        "rehearsals/<int:pk>/progress/",
        own_values.RehearsalProgressView.as_view(),
        name="rehearsal_progress",
    ),
    path(
        "rehearsals/<int:pk>/confirm/",
        own_values.RehearsalConfirmView.as_view(),
        name="rehearsal_confirm",
    ),
    path(
        "rehearsals/<int:pk>/leave/",
        own_values.RehearsalLeaveView.as_view(),
        name="rehearsal_leave",
    ),
    path(
        "rehearsals/<int:pk>/again/",
        own_values.RehearsalAgainView.as_view(),
        name="rehearsal_again",
    ),
    path("notices/", notices.NoticeListView.as_view(), name="notice_list"),
    path("notices/owe/", notices.NoticeOweView.as_view(), name="notice_owe"),
    path("notices/print/", notices.NoticePrintView.as_view(), name="notice_print"),
    path("notices/owed/", notices.NoticeOwedView.as_view(), name="notice_owed"),
    path("notices/find/", notices.NoticeFindView.as_view(), name="notice_find"),
    path("notices/add/", notices.NoticeAddView.as_view(), name="notice_add"),
    path("notices/runs/<int:pk>/", notices.NoticeRunView.as_view(), name="notice_run"),
    path(
        "notices/runs/<int:pk>/progress/",
        notices.NoticeProgressView.as_view(),
        name="notice_progress",
    ),
    path("notices/runs/<int:pk>/stop/", notices.NoticeStopView.as_view(), name="notice_stop"),
    path(
        "notices/printings/<int:pk>/files/<str:name>",
        notices.NoticeFileView.as_view(),
        name="notice_file",
    ),
    path(
        "notices/printings/<int:pk>/deliver/",
        deliveries.PrintingDeliverView.as_view(),
        name="notice_batch_deliver",
    ),
    path(
        "notices/printings/<int:pk>/proof/",
        deliveries.NoticeProofView.as_view(),
        name="notice_proof",
    ),
    path("notices/wording/", wording.WordingView.as_view(), name="notice_wording"),
    path(
        "notices/wording/<slug:slot>/<slug:language>/",
        wording.SlotView.as_view(),
        name="notice_slot",
    ),
    path(
        "notices/certificate/<int:year>/",
        notices.CertificateView.as_view(),
        name="notice_certificate",
    ),
    path(
        "notices/certificate/<int:year>.csv",
        notices.CertificateCsvView.as_view(),
        name="notice_certificate_csv",
    ),
    path("notices/<int:pk>/", notices.NoticeDetailView.as_view(), name="notice"),
    path(
        "notices/<int:pk>/deliver/", deliveries.NoticeDeliverView.as_view(), name="notice_deliver"
    ),
    path("notices/<int:pk>/return/", deliveries.NoticeReturnView.as_view(), name="notice_return"),
    path(
        "notices/<int:pk>/correct/", deliveries.NoticeCorrectView.as_view(), name="notice_correct"
    ),
    path("notices/returns/", deliveries.NoticeReturnsView.as_view(), name="notice_returns"),
    path(
        "notices/returns/<int:pk>/withdraw/",
        deliveries.ReturnWithdrawView.as_view(),
        name="notice_return_withdraw",
    ),
    path(
        "notices/printings/<int:pk>/correct/",
        deliveries.PrintingCorrectView.as_view(),
        name="notice_batch_correct",
    ),
    path("notices/owed.csv", notices.NoticeOwedCsvView.as_view(), name="notice_owed_csv"),
    path("inquiries/", inquiries.InquiryListView.as_view(), name="inquiry_list"),
    path("inquiries.csv", inquiries.InquiryCsvView.as_view(), name="inquiry_csv"),
    path("inquiries/<int:pk>/order/", inquiries.InquiryOrderView.as_view(), name="inquiry_order"),
    path("inquiries/<int:pk>/", inquiries.InquiryDetailView.as_view(), name="inquiry"),
    path("inquiries/<int:pk>/photo/", inquiries.InquiryPhotoView.as_view(), name="inquiry_photo"),
    *(
        path(
            f"inquiries/<int:pk>/{action}/",
            inquiries.InquiryActView.as_view(),
            {"action": action},
            name=f"inquiry_{action}",
        )
        for action in ("place", "inspect", "answer", "answer_more")
    ),
    path("customer-work/", customer_work.CustomerWorkListView.as_view(), name="customer_work_list"),
    path("lines/<int:pk>/due/", line_panels.LineDueView.as_view(), name="line_due"),
    path(
        "lines/<int:pk>/customer-work/",
        customer_work.LineCustomerWorkView.as_view(),
        name="customer_work",
    ),
    path(
        "lines/<int:pk>/customer-work/record/",
        customer_work.CustomerWorkRecordView.as_view(),
        name="customer_work_record",
    ),
    path(
        "customer-work/<int:pk>/step/",
        customer_work.CustomerWorkStepView.as_view(),
        name="customer_work_step",
    ),
    path(
        "customer-work/<int:pk>/take-back/",
        customer_work.CustomerWorkTakeBackView.as_view(),
        name="customer_work_take_back",
    ),
    path(
        "customer-work/steps/<int:pk>/take-back/",
        customer_work.CustomerStepTakeBackView.as_view(),
        name="customer_step_take_back",
    ),
    path("tiers/", tiers.TierListView.as_view(), name="tier_list"),
    path("tiers/<int:level>.csv", tiers.TierCsvView.as_view(), name="tier_csv"),
]
