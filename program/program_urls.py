"""Addresses of the program's own pages: rate, plan, deadlines, notices, submissions."""

from services_inventory.page_loading import loaded_when_asked, path

with loaded_when_asked(__name__):
    from program.views import (
        chosen_lines,
        custody,
        customer_work,
        deadlines,
        deliveries,
        first_hour,
        inquiries,
        layouts,
        line_panels,
        notices,
        outreach,
        own_values,
        people,
        plan_document,
        rates,
        residents,
        rule_values,
        sampling,
        submissions,
        tiers,
        wording,
        yearly_report,
    )
    from program.views.plans import board as plan_board
    from program.views.plans import closures as plan_closures
    from program.views.plans import editing as plan_editing
    from program.views.plans import files as plan_files
    from program.views.plans import grid as plan_grid
    from program.views.plans import next_steps as plan_next
    from program.views.plans import pace as plan_pace
    from program.views.plans import plan as plans
    from program.views.plans import side_by_side as plan_side
    from program.views.plans import stuck as plan_stuck
    from program.views.plans import works as plan_works

_REVISION = "submissions/<int:year>/r<int:revision>/"
_FROZEN = "plan/document/frozen/<int:number>"
_ELEMENT = "plan/document/elements/<slug:element>"
_VERSION = "layouts/<slug:layout_id>/v<int:version>/"

urlpatterns = [
    path("chosen/", chosen_lines.ChosenLinesView, name="chosen_lines"),
    path("chosen/orders/", chosen_lines.ChosenOrdersView, name="chosen_orders"),
    path("chosen/inspections/", chosen_lines.ChosenInspectionsView, name="chosen_inspections"),
    path(
        "chosen/inspections/back/",
        chosen_lines.ChosenInspectionsBackView,
        name="chosen_inspections_back",
    ),
    path("stuck/", plan_stuck.StuckView, name="stuck"),
    path("stuck/board/", plan_stuck.StuckBoardView, name="stuck_board"),
    path("stuck/lines.csv", plan_stuck.StuckCsvView, name="stuck_csv"),
    path("rate/", rates.RateView, name="rate"),
    path("rate/freeze/", rates.PoolFreezeView, name="pool_freeze"),
    path("rate/pools/<int:number>.csv", rates.PoolListView, name="pool_list"),
    path("plan/", plan_board.PlanListView, name="plan_list"),
    path("plan/board.csv", plan_board.PlanBoardCsvView, name="plan_board_csv"),
    path("plan/board.json", plan_board.PlanBoardShapesView, name="plan_board_shapes"),
    path("plan/new/", plan_board.PlanNewView, name="plan_new"),
    path("plan/compare/", plan_board.PlanCompareView, name="plan_compare"),
    path("plan/works/", plan_works.WorksView, name="plan_works"),
    path("plan/works/new/", plan_works.WorksTakeInView, name="plan_works_new"),
    path("plan/census/", plan_works.CensusView, name="plan_census"),
    path("plan/census/new/", plan_works.CensusTakeInView, name="plan_census_new"),
    path("plan/works/<int:pk>/back/", plan_works.WorksTakeBackView, name="plan_works_back"),
    path("plan/closures/", plan_closures.ClosuresView, name="plan_closures"),
    path("plan/closures/new/", plan_closures.ClosureNewView, name="plan_closure_new"),
    path("plan/closures/shapes.json", plan_closures.ClosureShapesView, name="plan_closure_shapes"),
    path(
        "plan/closures/<int:pk>/back/", plan_closures.ClosureWithdrawView, name="plan_closure_back"
    ),
    path("plan/side-by-side/", plan_side.PlanSideBySideView, name="plan_side_by_side"),
    path("plan/runs/<int:pk>/", plan_board.PlanRunView, name="plan_run"),
    path("plan/runs/<int:pk>/progress/", plan_board.PlanProgressView, name="plan_progress"),
    path("plan/runs/<int:pk>/stop/", plan_board.PlanStopView, name="plan_stop"),
    path("plan/unknowns/", plan_files.PlanUnknownsView, name="plan_unknowns"),
    path("plan/unknowns/draw/", plan_files.PlanInspectionsView, name="plan_inspections"),
    path(
        "plan/unknowns/<int:pk>.csv", plan_files.PlanInspectionCsvView, name="plan_inspection_csv"
    ),
    path("plan/<int:pk>/", plans.PlanView, name="plan"),
    path("plan/<int:pk>/advice/", plan_board.PlanAdviceView, name="plan_advice"),
    path("plan/<int:pk>/digging/", plan_works.PlanDiggingView, name="plan_digging"),
    path("plan/<int:pk>/who-waits/", plans.PlanFairnessView, name="plan_fairness"),
    path("plan/<int:pk>/between/", plan_grid.PlanGridView, name="plan_grid"),
    path("plan/<int:pk>/between/act/", plan_grid.PlanGridActView, name="plan_grid_act"),
    path("plan/<int:pk>/next/", plan_next.PlanNextView, name="plan_next"),
    path("plan/<int:pk>/next/try/", plan_next.PlanNextTryView, name="plan_next_try"),
    path("plan/<int:pk>/pace/", plan_pace.PlanPaceView, name="plan_pace"),
    path("plan/<int:pk>/pace/lost/", plan_pace.PlanLostDayView, name="plan_lost_day"),
    path("plan/<int:pk>/pace/lost/back/", plan_pace.PlanLostDayBackView, name="plan_lost_day_back"),
    path("plan/<int:pk>/pace.csv", plan_pace.PlanPaceCsvView, name="plan_pace_csv"),
    path("plan/<int:pk>/edit/", plan_editing.PlanEditView, name="plan_edit"),
    path("plan/<int:pk>/edit/change/", plan_editing.PlanChangeView, name="plan_change"),
    path("plan/<int:pk>/points.json", plan_editing.PlanPointsView, name="plan_points"),
    path("plan/<int:pk>/shapes.json", plans.PlanShapesView, name="plan_shapes"),
    path("plan/<int:pk>/areas.csv", plan_files.PlanCsvView, name="plan_csv"),
    path("plan/<int:pk>/lines.csv", plan_files.PlanLinesView, name="plan_lines_csv"),
    path("plan/<int:pk>/money.csv", plan_files.PlanMoneyView, name="plan_money"),
    path("plan/<int:pk>/priority.csv", plan_files.PlanPriorityView, name="plan_priority"),
    path(
        "plan/<int:pk>/calendar-<int:year>.csv", plan_files.PlanCalendarView, name="plan_calendar"
    ),
    path(
        "plan/<int:pk>/calendar-<int:year>-crew-<int:crew>.ics",
        plan_files.PlanIcsView,
        name="plan_ics",
    ),
    path("plan/<int:pk>/rest/<int:year>/", plans.PlanRestView, name="plan_rest"),
    path("plan/<int:pk>/adopt/", plans.PlanAdoptView, name="plan_adopt"),
    path("plan/<int:pk>/adopt/back/", plans.PlanAdoptionUndoView, name="plan_adopt_undo"),
    path("plan/<int:pk>/orders/", plans.PlanOrdersView, name="plan_orders"),
    path("plan/<int:pk>/areas/<int:area>/", plans.PlanAreaView, name="plan_area"),
    path("deadlines/", deadlines.DeadlineListView, name="deadline_list"),
    path("deadlines/done/", deadlines.DeadlineDoneView, name="deadline_done"),
    path("deadlines/feed/<str:token>.ics", deadlines.DeadlineFeedView, name="deadline_feed"),
    path("plan/document/", plan_document.PlanDocumentView, name="plan_document"),
    path(
        "plan/document/print.pdf", plan_document.PlanDocumentPrintView, name="plan_document_print"
    ),
    path(
        "plan/document/freeze/", plan_document.PlanDocumentFreezeView, name="plan_document_freeze"
    ),
    path(f"{_FROZEN}/", plan_document.PlanDocumentFrozenView, name="plan_document_frozen"),
    path(f"{_FROZEN}.pdf", plan_document.PlanDocumentFileView, name="plan_document_file"),
    path(
        f"{_FROZEN}/publish/", plan_document.PlanDocumentPublishView, name="plan_document_publish"
    ),
    path(f"{_FROZEN}/state/", plan_document.PlanStatementView, name="plan_statement"),
    path(f"{_ELEMENT}/", plan_document.PlanElementView, name="plan_element"),
    path(f"{_ELEMENT}/write/", plan_document.PlanElementWriteView, name="plan_element_write"),
    path(
        f"{_ELEMENT}/restore/<int:version>/",
        plan_document.PlanElementRestoreView,
        name="plan_element_restore",
    ),
    path("people/", people.PeopleView, name="people"),
    path("people/invite/", people.InviteView, name="account_invite"),
    path("people/sign-ins/", people.SignInListView, name="sign_in_list"),
    path("people/<int:pk>/", people.AccountView, name="account"),
    path("people/<int:pk>/change/", people.AccountChangeView, name="account_change"),
    path("people/<int:pk>/link/", people.AccountLinkView, name="account_link"),
    path("people/<int:pk>/sessions/end/", people.AccountSessionsView, name="account_sessions"),
    path(
        "people/<int:pk>/second-step/reset/",
        people.AccountSecondStepView,
        name="account_second_step",
    ),
    path("people/companies/new/", people.CompanyWriteView, name="company_new"),
    path("people/companies/<int:pk>/", people.CompanyView, name="company"),
    path("people/companies/<int:pk>/change/", people.CompanyWriteView, name="company_change"),
    path("people/devices/<int:pk>/shut-out/", people.CompanyDeviceView, name="company_device"),
    path("layouts/", layouts.LayoutListView, name="layout_list"),
    path("layouts/edit/", layouts.LayoutEditView, name="layout_edit"),
    path("layouts/upload/", layouts.LayoutUploadView, name="layout_upload"),
    path("layouts/<slug:layout_id>/", layouts.LayoutView, name="layout"),
    path("layouts/<slug:layout_id>.toml", layouts.LayoutFileView, name="layout_file"),
    path(f"{_VERSION}", layouts.LayoutView, name="layout_version"),
    path(f"{_VERSION}restore/", layouts.LayoutRestoreView, name="layout_restore"),
    path(f"{_VERSION}layout.toml", layouts.LayoutFileView, name="layout_version_file"),
    path("submissions/", submissions.SubmissionListView, name="submission_list"),
    path("submissions/<int:year>/", submissions.SubmissionDraftView, name="submission_draft"),
    path(
        "submissions/<int:year>/freeze/", submissions.SubmissionFreezeView, name="submission_freeze"
    ),
    path("submissions/verify/", submissions.SubmissionVerifyAllView, name="submission_verify_all"),
    path("submissions/schema.json", submissions.SubmissionSchemaView, name="submission_schema"),
    path(f"{_REVISION}all.zip", submissions.SubmissionArchiveView, name="submission_archive"),
    path(f"{_REVISION}paper/", submissions.SubmissionPaperView, name="submission_paper"),
    path(
        "submissions/progress/<int:pk>/",
        submissions.SubmissionProgressView,
        name="submission_progress",
    ),
    path(_REVISION, submissions.SubmissionView, name="submission"),
    path(f"{_REVISION}certify/", submissions.SubmissionCertifyView, name="submission_certify"),
    path(f"{_REVISION}amend/", submissions.SubmissionAmendView, name="submission_amend"),
    path(f"{_REVISION}verify/", submissions.SubmissionVerifyView, name="submission_verify"),
    path(f"{_REVISION}files/<slug:kind>/", submissions.SubmissionFileView, name="submission_file"),
    path("rule/", rule_values.RuleListView, name="rule_values"),
    path("rule/reading/", rule_values.ReadingView, name="rule_reading"),
    path("rule/ticks/<int:pk>/back/", rule_values.TickBackView, name="tick_back"),
    path("rule/<slug:rule_id>/", rule_values.RuleView, name="rule_value"),
    path("rule/<slug:rule_id>/tick/", rule_values.RuleTickView, name="rule_tick"),
    path("rule/<slug:rule_id>/own/", rule_values.RuleOwnView, name="rule_own"),
    path("first-hour/", first_hour.FirstHourView, name="first_hour"),
    path("first-hour/<slug:step>/skip/", first_hour.FirstHourSkipView, name="first_hour_skip"),
    path("utility/", own_values.UtilityView, name="utility"),
    path("own-values/<int:pk>/end/", own_values.OwnRowView, {"act": "end"}, name="own_value_end"),
    path(
        "own-values/<int:pk>/take-back/",
        own_values.OwnRowView,
        {"act": "withdraw"},
        name="own_value_withdraw",
    ),
    path("rehearsals/<int:pk>/", own_values.RehearsalView, name="rehearsal"),
    path(
        "rehearsals/<int:pk>/progress/", own_values.RehearsalProgressView, name="rehearsal_progress"
    ),
    path("rehearsals/<int:pk>/confirm/", own_values.RehearsalConfirmView, name="rehearsal_confirm"),
    path("rehearsals/<int:pk>/leave/", own_values.RehearsalLeaveView, name="rehearsal_leave"),
    path("rehearsals/<int:pk>/again/", own_values.RehearsalAgainView, name="rehearsal_again"),
    path("notices/", notices.NoticeListView, name="notice_list"),
    path("notices/owe/", notices.NoticeOweView, name="notice_owe"),
    path("notices/print/", notices.NoticePrintView, name="notice_print"),
    path("notices/owed/", notices.NoticeOwedView, name="notice_owed"),
    path("notices/find/", notices.NoticeFindView, name="notice_find"),
    path("notices/add/", notices.NoticeAddView, name="notice_add"),
    path("notices/runs/<int:pk>/", notices.NoticeRunView, name="notice_run"),
    path("notices/runs/<int:pk>/progress/", notices.NoticeProgressView, name="notice_progress"),
    path("notices/runs/<int:pk>/stop/", notices.NoticeStopView, name="notice_stop"),
    path("notices/printings/<int:pk>/files/<str:name>", notices.NoticeFileView, name="notice_file"),
    path(
        "notices/printings/<int:pk>/deliver/",
        deliveries.PrintingDeliverView,
        name="notice_batch_deliver",
    ),
    path("notices/printings/<int:pk>/proof/", deliveries.NoticeProofView, name="notice_proof"),
    path("notices/wording/", wording.WordingView, name="notice_wording"),
    path("notices/wording/<slug:slot>/<slug:language>/", wording.SlotView, name="notice_slot"),
    path("notices/certificate/<int:year>/", notices.CertificateView, name="notice_certificate"),
    path(
        "notices/certificate/<int:year>.csv",
        notices.CertificateCsvView,
        name="notice_certificate_csv",
    ),
    path("notices/<int:pk>/", notices.NoticeDetailView, name="notice"),
    path("notices/<int:pk>/deliver/", deliveries.NoticeDeliverView, name="notice_deliver"),
    path("notices/<int:pk>/return/", deliveries.NoticeReturnView, name="notice_return"),
    path("notices/<int:pk>/correct/", deliveries.NoticeCorrectView, name="notice_correct"),
    path("notices/returns/", deliveries.NoticeReturnsView, name="notice_returns"),
    path(
        "notices/returns/<int:pk>/send-again/",
        deliveries.ReturnSendAgainView,
        name="notice_send_again",
    ),
    path(
        "notices/returns/<int:pk>/withdraw/",
        deliveries.ReturnWithdrawView,
        name="notice_return_withdraw",
    ),
    path(
        "notices/printings/<int:pk>/correct/",
        deliveries.PrintingCorrectView,
        name="notice_batch_correct",
    ),
    path("notices/owed.csv", notices.NoticeOwedCsvView, name="notice_owed_csv"),
    path("inquiries/", inquiries.InquiryListView, name="inquiry_list"),
    path("inquiries.csv", inquiries.InquiryCsvView, name="inquiry_csv"),
    path("inquiries/<int:pk>/order/", inquiries.InquiryOrderView, name="inquiry_order"),
    path("inquiries/<int:pk>/", inquiries.InquiryDetailView, name="inquiry"),
    path("inquiries/<int:pk>/photo/", inquiries.InquiryPhotoView, name="inquiry_photo"),
    *(
        path(
            f"inquiries/<int:pk>/{action}/",
            inquiries.InquiryActView,
            {"action": action},
            name=f"inquiry_{action}",
        )
        for action in ("place", "agreed", "offer", "inspect", "answer", "answer_more")
    ),
    path("customer-work/", customer_work.CustomerWorkListView, name="customer_work_list"),
    path("lines/<int:pk>/custody/", custody.CustodyView, name="custody"),
    path("lines/<int:pk>/custody.pdf", custody.CustodyPdfView, name="custody_pdf"),
    path("lines/<int:pk>/residents/", residents.ResidentsView, name="residents"),
    path("lines/<int:pk>/due/", line_panels.LineDueView, name="line_due"),
    path("lines/<int:pk>/customer-work/", customer_work.LineCustomerWorkView, name="customer_work"),
    path(
        "lines/<int:pk>/customer-work/record/",
        customer_work.CustomerWorkRecordView,
        name="customer_work_record",
    ),
    path(
        "customer-work/<int:pk>/step/",
        customer_work.CustomerWorkStepView,
        name="customer_work_step",
    ),
    path(
        "customer-work/<int:pk>/take-back/",
        customer_work.CustomerWorkTakeBackView,
        name="customer_work_take_back",
    ),
    path(
        "customer-work/steps/<int:pk>/take-back/",
        customer_work.CustomerStepTakeBackView,
        name="customer_step_take_back",
    ),
    path("sampling/", sampling.SamplingView, name="sampling"),
    path("sampling/files/new/", sampling.ResultFileNewView, name="sampling_file_new"),
    path("sampling/files/<int:pk>/", sampling.ResultFileView, name="sampling_file"),
    path("sampling/files/<int:pk>/back/", sampling.ResultFileBackView, name="sampling_file_back"),
    path("sampling/periods/new/", sampling.PeriodNewView, name="sampling_period_new"),
    path("sampling/periods/<int:pk>/", sampling.PeriodView, name="sampling_period"),
    path("sampling/periods/<int:pk>.csv", sampling.PeriodCsvView, name="sampling_period_csv"),
    path("sampling/periods/<int:pk>/back/", sampling.PeriodBackView, name="sampling_period_back"),
    path(
        "sampling/periods/<int:pk>/exceedance/", sampling.ExceedanceNewView, name="exceedance_new"
    ),
    path(
        "sampling/exceedances/<int:pk>/back/", sampling.ExceedanceBackView, name="exceedance_back"
    ),
    path("sampling/results/<int:pk>/aside/", sampling.ResultAsideView, name="result_aside"),
    path("sampling/aside/<int:pk>/back/", sampling.ResultAgainView, name="result_again"),
    path("sampling/invitations/", sampling.InvitationListView, name="sampling_invitations"),
    path("sampling/invitations/owe/", sampling.InvitationOweView, name="invitations_owe"),
    path("outreach/", outreach.OutreachView, name="outreach"),
    path("outreach/new/", outreach.OutreachNewView, name="outreach_new"),
    path("outreach/<int:pk>/proof/", outreach.OutreachProofView, name="outreach_proof"),
    path("outreach/<int:pk>/back/", outreach.OutreachBackView, name="outreach_back"),
    path("outreach/list/new/", outreach.PartnerNewView, name="partner_new"),
    path("outreach/list/<int:pk>/back/", outreach.PartnerBackView, name="partner_back"),
    path("consumer-report/", yearly_report.YearlyReportView, name="yearly_report"),
    path(
        "consumer-report/<slug:slot>/<slug:language>/",
        yearly_report.ReportSlotView,
        name="yearly_report_slot",
    ),
    path("deadlines/done/<int:pk>/back/", deadlines.DoneBackView, name="done_back"),
    path("deadlines/done/<int:pk>/proof/", deadlines.DoneProofView, name="done_proof"),
    path("sampling/tiers/", tiers.TierListView, name="tier_list"),
    path("sampling/tiers/<int:level>.csv", tiers.TierCsvView, name="tier_csv"),
]
