"""What starting the program costs beside a bare `django.setup()`, each in a fresh process.

python -m tests.bench.startup
"""

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable

from tests.bench.rows import Measured, as_table, machine
from tests.source_files import ROOT

TIMES = 7
# The libraries of others that the settings name, with no line of ours.
BARE = """
import django
from django.conf import settings
settings.configure(
    SECRET_KEY="only-for-this-run",
    ROOT_URLCONF="__main__",
    STATIC_URL="static/",
    INSTALLED_APPS=[
        "django.contrib.admin", "django.contrib.auth", "django.contrib.contenttypes",
        "django.contrib.sessions", "django.contrib.messages", "django.contrib.staticfiles",
        "django.contrib.humanize", "axes", "csp",
    ],
    MIDDLEWARE=[
        "django.middleware.security.SecurityMiddleware",
        "whitenoise.middleware.WhiteNoiseMiddleware",
        "csp.middleware.CSPMiddleware",
        "django.contrib.sessions.middleware.SessionMiddleware",
        "django.middleware.locale.LocaleMiddleware",
        "django.middleware.common.CommonMiddleware",
        "django.middleware.csrf.CsrfViewMiddleware",
        "django.contrib.auth.middleware.AuthenticationMiddleware",
        "django.contrib.messages.middleware.MessageMiddleware",
        "django.middleware.clickjacking.XFrameOptionsMiddleware",
        "axes.middleware.AxesMiddleware",
    ],
    TEMPLATES=[{
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {"context_processors": [
            "django.template.context_processors.request",
            "django.contrib.auth.context_processors.auth",
            "django.contrib.messages.context_processors.messages",
        ]},
    }],
    AUTHENTICATION_BACKENDS=[
        "axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend",
    ],
    DATABASES={"default": {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}},
)
django.setup()
"""
# What checking the libraries costs, and the pages of theirs that have an address here.
LIBRARIES_CHECK = """
from django.contrib import admin
from django.contrib.auth.views import LoginView, LogoutView
from django.core.management import call_command
from django.urls import path
urlpatterns = [
    path("sign-in/", LoginView.as_view()),
    path("sign-out/", LogoutView.as_view()),
    path("accounts/", admin.site.urls),
]
call_command("check")
"""
SETUP = "import django; django.setup()"
MEMORY = """
import resource
from program import wsgi
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def measure() -> list[Measured]:
    """Return the ratio of the start to the bare start, and the memory after it."""
    with tempfile.TemporaryDirectory(prefix="bench-") as folder:
        environment = {
            **os.environ,
            "DATA_DIR": folder,
            "SECRET_KEY": "only-for-this-run",
            "DJANGO_SETTINGS_MODULE": "program.settings",
            "DATABASE_URL": "",
            # As installed: compiled once, here to a place of this run's own.
            "PYTHONDONTWRITEBYTECODE": "",
            "PYTHONPYCACHEPREFIX": f"{folder}/compiled",
        }

        def run(*arguments: str) -> str:
            return subprocess.run(
                [sys.executable, *arguments],
                cwd=ROOT,
                env=environment,
                check=True,
                capture_output=True,
                text=True,
            ).stdout

        bare = _least(run, "-c", BARE)
        ours = _least(run, "-c", SETUP)
        check = _least(run, "manage.py", "check")
        libraries = _least(run, "-c", BARE + LIBRARIES_CHECK)
        memory = float(run("-c", MEMORY))
    return [
        Measured("django.setup() with our apps", ours, "s", bare, 1.3, 1.15),
        Measured("manage.py check", check, "s", bare, 1.3, 1.2),
        Measured("manage.py check, against the libraries' own", check, "s", libraries, 1.5, 1.3),
        Measured("memory with every page's code loaded", memory, "MB", None, 110, 90),
    ]


def _least(run: Callable[..., str], *arguments: str) -> float:
    run(*arguments)
    found = []
    for _ in range(TIMES):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        run(*arguments)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found)


def main() -> None:
    """Measure and print."""
    print(f"{machine('')}\n")
    print(as_table(measure()))


if __name__ == "__main__":
    main()
