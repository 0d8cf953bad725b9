"""Every address of the program."""

from django.urls import include

from services_inventory.page_loading import pages_in, path

from .views import condition

handler400 = condition.unread
handler404 = condition.nothing
handler500 = condition.broken

accounts = pages_in("django.contrib.auth.views")
people = pages_in("program.views.people")
boards = pages_in("program.views.boards")
finding = pages_in("program.views.finding")

urlpatterns = [
    path("", boards.board, name="board"),
    path("find/", finding.find, name="find"),
    path("help/", boards.help_page, name="help"),
    path("healthy/", condition.healthy, name="healthy"),
    path("sign-in/", accounts.LoginView, name="login"),
    path("sign-out/", accounts.LogoutView, name="logout"),
    path("set-password/<str:uidb64>/<str:token>/", people.SetPasswordView, name="set_password"),
    path("own-password/", people.OwnPasswordView, name="own_password"),
    path("inventory/", include("services_inventory.urls")),
    path("work/", include("replacements.urls")),
    path("api/v1/", include("replacements.api.urls")),
    path("program/", include("program.program_urls")),
    path("public/", include("program.public.urls")),
    path("ogc/staff/", include("program.ogc.staff_urls")),
    path("ogc/", include("program.ogc.urls")),
]
