"""Every address of the program."""

from django.urls import include

from services_inventory.page_loading import loaded_when_asked, path

from .views import condition

handler400 = condition.unread
handler404 = condition.nothing
handler500 = condition.broken

with loaded_when_asked(__name__):
    from program.views import boards, doors, finding, kept_views
    from program.views import help as helping
    from program.views import own_account as own

urlpatterns = [
    path("", boards.board, name="board"),
    path("find/", finding.find, name="find"),
    path("next/", boards.next_things_page, name="next_things"),
    path("help/", helping.help_page, name="help"),
    path("help/words.json", helping.help_words, name="help_words"),
    path("help/<path:page>", helping.help_page, name="help_page"),
    path("healthy/", condition.healthy, name="healthy"),
    path("metrics/", condition.metrics, name="metrics"),
    path("sign-in/", doors.SignInView, name="login"),
    path("sign-in/second-step/", doors.SecondStepView, name="second_step"),
    path("sign-in/confirm/", doors.ConfirmView, name="confirm"),
    path("sign-out/", doors.SignOutView, name="logout"),
    path("set-password/<str:uidb64>/<str:token>/", doors.SetPasswordView, name="set_password"),
    path("own/", own.OwnAccountView, name="own_account"),
    path("own/password/", own.OwnPasswordView, name="own_password"),
    path("own/look/", own.OwnLookView, name="own_look"),
    path("own/sessions/end/", own.OwnSessionsView, name="own_sessions"),
    path("own/second-step/codes/", own.OwnCodesView, name="own_codes"),
    path("own/second-step/remove/", own.OwnSecondStepView, name="own_second_step"),
    path("own/views/", kept_views.KeptViewNewView, name="kept_view_new"),
    path("own/views/<int:pk>/end/", kept_views.KeptViewEndView, name="kept_view_end"),
    path("own/map-keys/", own.MapKeyNewView, name="map_key_new"),
    path("own/map-keys/<int:pk>/end/", own.MapKeyEndView, name="map_key_end"),
    path("inventory/", include("services_inventory.urls")),
    path("work/", include("replacements.urls")),
    path("api/v1/", include("replacements.api.urls")),
    path("program/", include("program.program_urls")),
    path("public/", include("program.public.urls")),
    path("ogc/staff/", include("program.ogc.staff_urls")),
    path("ogc/", include("program.ogc.urls")),
]
