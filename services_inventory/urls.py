"""Addresses of this app's pages."""

from .page_loading import pages_in, path

batches = pages_in("services_inventory.views.batches")
buildings = pages_in("services_inventory.views.buildings")
conflicts = pages_in("services_inventory.views.conflicts")
line = pages_in("services_inventory.views.line")
lines = pages_in("services_inventory.views.lines")
matches = pages_in("services_inventory.views.matches")
own_words = pages_in("services_inventory.views.own_words")
neighborhoods = pages_in("services_inventory.views.neighborhoods")
validation = pages_in("services_inventory.views.validation")

urlpatterns = [
    path("intake/matches/", matches.MatchListView.as_view(), name="match_list"),
    path("intake/matches/many/", matches.MatchManyView.as_view(), name="match_many"),
    path("intake/matches/decided/", matches.MatchDecidedView.as_view(), name="match_decided"),
    path("intake/matches/take-in/", matches.MatchTakeInView.as_view(), name="match_take_in"),
    path("intake/matches/<int:question>/", matches.MatchDecideView.as_view(), name="match_decide"),
    path("intake/words/", own_words.WordListView.as_view(), name="word_list"),
    path("intake/words.csv", own_words.WordCsvView.as_view(), name="word_list_csv"),
    path(
        "intake/words/<int:word>/take-back/",
        own_words.WordWithdrawView.as_view(),
        name="word_withdraw",
    ),
    path("intake/<int:pk>/words/", own_words.WordsAskedView.as_view(), name="words_asked"),
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
    path("neighborhoods/", neighborhoods.NeighborhoodListView.as_view(), name="neighborhood_list"),
    path(
        "neighborhoods.csv",
        neighborhoods.NeighborhoodCsvView.as_view(),
        name="neighborhood_csv",
    ),
    path(
        "neighborhoods/shapes.json",
        neighborhoods.NeighborhoodShapesView.as_view(),
        name="neighborhood_shapes",
    ),
    path(
        "neighborhoods/<int:pk>/",
        neighborhoods.NeighborhoodDetailView.as_view(),
        name="neighborhood",
    ),
    path("points.json", neighborhoods.PointsView.as_view(), name="line_points"),
    path("lines/", lines.LineListView.as_view(), name="line_list"),
    path("lines.csv", lines.LineCsvView.as_view(), name="line_csv"),
    path("lines.gpkg", lines.LineGeoPackageView.as_view(), name="line_geopackage"),
    path("lines/<int:pk>/", line.LineView.as_view(), name="line"),
    path("lines/<int:pk>/evidence/", line.EvidenceView.as_view(), name="evidence_record"),
    path("lines/<int:pk>/building/", buildings.BuildingView.as_view(), name="building"),
    path(
        "premise-changes/<int:pk>/put-back/",
        buildings.BuildingPutBackView.as_view(),
        name="building_put_back",
    ),
    path("evidence/<int:pk>/withdraw/", line.WithdrawView.as_view(), name="evidence_withdraw"),
    path("evidence/<int:pk>/again/", line.AgainView.as_view(), name="evidence_again"),
    path("documents/<int:pk>/", line.DocumentView.as_view(), name="document"),
    path("unplaced/", lines.UnplacedView.as_view(), name="line_unplaced"),
    path("conflicts/", conflicts.ConflictListView.as_view(), name="conflict_list"),
    path("conflicts/<int:pk>/", conflicts.ConflictView.as_view(), name="conflict"),
    path("conflicts/proposals/<int:pk>/", conflicts.ProposalView.as_view(), name="proposal"),
    path("conflicts/set-aside/", conflicts.SetAsideView.as_view(), name="set_aside"),
    path("conflicts/set-aside.csv", conflicts.SetAsideCsvView.as_view(), name="set_aside_csv"),
    path("counts/", lines.CountsView.as_view(), name="counts"),
    path("counts.csv", lines.CountsCsvView.as_view(), name="counts_csv"),
    path("counts/lines.csv", lines.LinesOfDayView.as_view(), name="lines_of_day"),
    path("counts/lines.parquet", lines.FrameOfDayView.as_view(), name="frame_of_day"),
    path("validation/", validation.ValidationListView.as_view(), name="validation_list"),
    path("validation/<int:pk>/", validation.DrawView.as_view(), name="validation_draw"),
    path("validation/<int:pk>/visits.csv", validation.VisitListView.as_view(), name="visit_list"),
    path("validation/<int:pk>/pool.csv", validation.PoolListView.as_view(), name="pool_kept"),
    path("validation/<int:pk>/report/", validation.ReportView.as_view(), name="validation_report"),
    path("validation/visits/<int:pk>/", validation.PickView.as_view(), name="validation_pick"),
    path(
        "validation/visits/<int:pk>/take-back/",
        validation.PickTakeBackView.as_view(),
        name="validation_pick_take_back",
    ),
]
