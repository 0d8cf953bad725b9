"""Every address of the program."""

from django.contrib import admin
from django.contrib.auth import views as auth_views
from django.urls import include, path

from .views import boards

handler500 = boards.broken

urlpatterns = [
    path("", boards.board, name="board"),
    path("help/", boards.help_page, name="help"),
    path("healthy/", boards.healthy, name="healthy"),
    path("sign-in/", auth_views.LoginView.as_view(), name="login"),
    path("sign-out/", auth_views.LogoutView.as_view(), name="logout"),
    path("inventory/", include("services_inventory.urls")),
    path("work/", include("replacements.urls")),
    path("api/v1/", include("replacements.api.urls")),
    path("program/", include("program.program_urls")),
    path("public/", include("program.public.urls")),
    path("ogc/staff/", include("program.ogc.staff_urls")),
    path("ogc/", include("program.ogc.urls")),
    path("accounts/", admin.site.urls),
]
