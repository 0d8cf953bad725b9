"""Django settings, all of them from the environment (see DEVELOPERS.md, "Settings")."""

from pathlib import Path

import environ

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

SECRET_KEY = env("SECRET_KEY", default="x")
DATABASES = {"default": {"ENGINE": "django.db.backends.sqlite3", "NAME": ":memory:"}}
INSTALLED_APPS = ["django.contrib.auth", "django.contrib.contenttypes"]
USE_TZ = True
