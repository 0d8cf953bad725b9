"""Addresses of this app's pages."""

from .page_loading import pages_in, path

batches = pages_in("services_inventory.views.batches")
buildings = pages_in("services_inventory.views.buildings")
conflicts = pages_in("services_inventory.views.conflicts")
feeds = pages_in("services_inventory.views.feeds")
held = pages_in("services_inventory.views.held")
line = pages_in("services_inventory.views.line")
lines = pages_in("services_inventory.views.lines")
matches = pages_in("services_inventory.views.matches")
own_words = pages_in("services_inventory.views.own_words")
said_categories = pages_in("services_inventory.views.said_categories")
neighborhoods = pages_in("services_inventory.views.neighborhoods")
validation = pages_in("services_inventory.views.validation")

urlpatterns = [
    path("intake/matches/", matches.MatchListView, name="match_list"),
    path("intake/matches/many/", matches.MatchManyView, name="match_many"),
    path("intake/matches/decided/", matches.MatchDecidedView, name="match_decided"),
    path("intake/matches/take-back/", matches.MatchTakeBackView, name="match_take_back"),
    path("intake/matches/take-in/", matches.MatchTakeInView, name="match_take_in"),
    path("intake/matches/<int:question>/", matches.MatchDecideView, name="match_decide"),
    path("intake/feeds/", feeds.FeedListView, name="feed_list"),
    path("intake/feeds/<int:pk>/", feeds.FeedView, name="feed"),
    path("intake/<int:pk>/answer/", feeds.FeedAnswerView, name="feed_answer"),
    path("intake/words/", own_words.WordListView, name="word_list"),
    path("intake/words.csv", own_words.WordCsvView, name="word_list_csv"),
    path("intake/words/<int:word>/take-back/", own_words.WordWithdrawView, name="word_withdraw"),
    path("intake/<int:pk>/words/", own_words.WordsAskedView, name="words_asked"),
    path("intake/said/", said_categories.SaidListView, name="said_list"),
    path("intake/said.csv", said_categories.SaidCsvView, name="said_csv"),
    path("intake/", batches.BatchListView, name="batch_list"),
    path("intake/<int:pk>/", batches.BatchView, name="batch"),
    path("intake/<int:pk>/columns/", batches.ColumnsView, name="batch_columns"),
    path("intake/<int:pk>/columns/preview/", batches.ColumnsPreviewView, name="columns_preview"),
    path("intake/<int:pk>/progress/", batches.BatchProgressView, name="batch_progress"),
    path("intake/<int:pk>/held/", held.HeldFileView, name="batch_held"),
    path("intake/<int:pk>/held/mend/", held.HeldMendView, name="held_mend"),
    path("intake/<int:pk>/held/replace/", held.HeldReplaceView, name="held_replace"),
    path("intake/<int:pk>/held/upload/", held.HeldUploadView, name="held_upload"),
    path("intake/<int:pk>/held/take-in/", held.MendedTakeInView, name="mended_take_in"),
    path(
        "intake/<int:pk>/apply/", batches.BatchActionView, {"action": "apply"}, name="batch_apply"
    ),
    path("intake/<int:pk>/stop/", batches.BatchActionView, {"action": "stop"}, name="batch_stop"),
    path("intake/<int:pk>/undo/", batches.BatchActionView, {"action": "undo"}, name="batch_undo"),
    path("neighborhoods/", neighborhoods.NeighborhoodListView, name="neighborhood_list"),
    path("neighborhoods.csv", neighborhoods.NeighborhoodCsvView, name="neighborhood_csv"),
    path(
        "neighborhoods/shapes.json",
        neighborhoods.NeighborhoodShapesView,
        name="neighborhood_shapes",
    ),
    path("neighborhoods/<int:pk>/", neighborhoods.NeighborhoodDetailView, name="neighborhood"),
    path("points.json", neighborhoods.PointsView, name="line_points"),
    path("lines/", lines.LineListView, name="line_list"),
    path("lines.csv", lines.LineCsvView, name="line_csv"),
    path("lines.gpkg", lines.LineGeoPackageView, name="line_geopackage"),
    path("lines/<int:pk>/", line.LineView, name="line"),
    path("lines/<int:pk>/evidence/", line.EvidenceView, name="evidence_record"),
    path("lines/<int:pk>/building/", buildings.BuildingView, name="building"),
    path(
        "premise-changes/<int:pk>/put-back/",
        buildings.BuildingPutBackView,
        name="building_put_back",
    ),
    path("evidence/<int:pk>/withdraw/", line.WithdrawView, name="evidence_withdraw"),
    path("evidence/<int:pk>/again/", line.AgainView, name="evidence_again"),
    path("documents/<int:pk>/", line.DocumentView, name="document"),
    path("unplaced/", lines.UnplacedView, name="line_unplaced"),
    path("conflicts/", conflicts.ConflictListView, name="conflict_list"),
    path("conflicts/<int:pk>/", conflicts.ConflictView, name="conflict"),
    path("conflicts/proposals/<int:pk>/", conflicts.ProposalView, name="proposal"),
    path("conflicts/set-aside/", conflicts.SetAsideView, name="set_aside"),
    path("conflicts/set-aside.csv", conflicts.SetAsideCsvView, name="set_aside_csv"),
    path("counts/", lines.CountsView, name="counts"),
    path("counts.csv", lines.CountsCsvView, name="counts_csv"),
    path("counts/lines.csv", lines.LinesOfDayView, name="lines_of_day"),
    path("counts/lines.parquet", lines.FrameOfDayView, name="frame_of_day"),
    path("validation/", validation.ValidationListView, name="validation_list"),
    path("validation/<int:pk>/", validation.DrawView, name="validation_draw"),
    path("validation/<int:pk>/visits.csv", validation.VisitListView, name="visit_list"),
    path("validation/<int:pk>/pool.csv", validation.PoolListView, name="pool_kept"),
    path("validation/<int:pk>/report/", validation.ReportView, name="validation_report"),
    path("validation/visits/<int:pk>/", validation.PickView, name="validation_pick"),
    path(
        "validation/visits/<int:pk>/take-back/",
        validation.PickTakeBackView,
        name="validation_pick_take_back",
    ),
]
