"""Addresses of the program's own pages: rate, plan, deadlines, notices, submissions."""

from django.urls import path

from .views import deadlines, rates, rule_values, submissions

_REVISION = "submissions/<int:year>/r<int:revision>/"

urlpatterns = [
    path("rate/", rates.RateView.as_view(), name="rate"),
    path("rate/freeze/", rates.PoolFreezeView.as_view(), name="pool_freeze"),
    path("rate/pools/<int:number>.csv", rates.PoolListView.as_view(), name="pool_list"),
    path("deadlines/", deadlines.DeadlineListView.as_view(), name="deadline_list"),
    path("deadlines/done/", deadlines.DeadlineDoneView.as_view(), name="deadline_done"),
    path(
        "deadlines/feed/<str:token>.ics", deadlines.DeadlineFeedView.as_view(), name="deadline_feed"
    ),
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
    path("rule/<slug:rule_id>/own/", rule_values.RuleOverrideView.as_view(), name="rule_override"),
]
