"""Django settings, all of them from the environment (DEVELOPERS.md, "Settings")."""

from importlib.util import find_spec
from pathlib import Path

from csp.constants import NONE, SELF

from . import environment
from .languages import languages_in

BASE_DIR = Path(__file__).resolve().parent.parent

DEBUG = environment.yes_or_no("DEBUG")
DATA_DIR = environment.data_folder("DATA_DIR", BASE_DIR / "var", ("static", "uploading"))
ALLOWED_HOSTS = environment.words("ALLOWED_HOSTS", ["localhost", "127.0.0.1", "[::1]"])
CSRF_TRUSTED_ORIGINS = environment.words("CSRF_TRUSTED_ORIGINS", [])
SECRET_KEY = environment.secret_key("SECRET_KEY", DATA_DIR)

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_guid",
    "axes",
    "csp",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "services_inventory",
    "replacements",
    "program",
]

MIDDLEWARE = [
    "django_guid.middleware.guid_middleware",
    "django.middleware.security.SecurityMiddleware",
    "program.headers.more_headers",
    "services_inventory.asked_once.ask_once_a_request",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "program.headers.base_map_allowed",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "program.doors.Doors",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "axes.middleware.AxesMiddleware",
    "services_inventory.given.texts_are_texts",
    "program.wrong_values.say_what_is_wrong",
    "program.one_act.OneAct",
    "program.opened.note_what_is_opened",
]

ROOT_URLCONF = "program.urls"
WSGI_APPLICATION = "program.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "program" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "program.context.page",
            ],
            "builtins": [
                "services_inventory.templatetags.one_act",
                "services_inventory.templatetags.tables",
            ],
        },
    }
]

DATABASES = {"default": environment.database("DATABASE_URL", DATA_DIR)}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        # Large pages, as a file touches most of them; an existing record keeps the size it has.
        "init_command": (
            "PRAGMA page_size=16384;PRAGMA journal_mode=WAL;PRAGMA synchronous=NORMAL;"
            "PRAGMA cache_size=-65536;PRAGMA temp_store=MEMORY;PRAGMA mmap_size=268435456;"
        ),
    }
# Opening SQLite's file anew would cost each request 2 to 3 ms. A kept connection is tried before
# its first use: a server that was restarted meanwhile is then no error to whoever asks next.
DATABASES["default"] |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
# Lists, maps, public pages and downloads may be read from a replica (program/replicas.py).
DATABASES |= environment.replica("READ_DATABASE_URL", DATABASES["default"])
READ_LAG_SECONDS = environment.whole_number("READ_LAG_SECONDS", default=10, unit="seconds")
if "replica" in DATABASES:
    DATABASE_ROUTERS = ["program.replicas.Router"]
    MIDDLEWARE.append("program.replicas.ReadsFromReplica")
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Of each web process, or of all machines; true in each, as what is kept is compared with the
# record's mark.
SHARED_CACHE = environment.shared_cache("CACHE_URL")
CACHES = environment.caches(SHARED_CACHE)

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "program.roles.RolesBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}", "OPTIONS": options}
    for name, options in (
        ("UserAttributeSimilarityValidator", {}),
        ("MinimumLengthValidator", {"min_length": 12}),
        ("CommonPasswordValidator", {}),
        ("NumericPasswordValidator", {}),
    )
]
LOGIN_URL = "login"
LOGIN_REDIRECT_URL = "board"
LOGOUT_REDIRECT_URL = "login"
# Failures are waited for, longer each time; nobody is locked out (program/waits.py).
AXES_HANDLER = "program.waits.Waits"
AXES_LOCKOUT_CALLABLE = "program.waits.wait"
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_CLIENT_IP_CALLABLE = "services_inventory.asked_often.client_address"
AXES_VERBOSE = False
AXES_ENABLE_ACCESS_FAILURE_LOG = True
SILENCED_SYSTEM_CHECKS = [
    "axes.W006",
    # Whether a city's other host names answer over HTTPS is not this program's to promise.
    "security.W005",
    "security.W021",
]

LANGUAGE_CODE = "en-us"
LOCALE_PATHS = [BASE_DIR / "program" / "locale"]
LANGUAGES = languages_in(LOCALE_PATHS[0])
TIME_ZONE = environment.time_zone("TIME_ZONE", "America/New_York")
USE_I18N = True
FORMAT_MODULE_PATH = ["program.formats"]
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
# The map library comes out of an installed package's own static files. Its Django app is not
# installed: that would ask for a system GDAL, which nothing here needs.
_leaflet = Path(find_spec("leaflet").submodule_search_locations[0]) / "static" / "leaflet"
STATICFILES_DIRS = [("leaflet", _leaflet)]
STORAGES = {
    **environment.storages("FILES_URL"),
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedStaticFilesStorage"
    },
}
# Without a collectstatic run (a newcomer's demo), files are served from the packages.
WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = DATA_DIR / "files"
HELP_DIR = DATA_DIR / "help"  # the guides as pages, made by build_help
MEDIA_URL = "/files-are-served-by-views-only/"
FILE_UPLOAD_PERMISSIONS = 0o640
# Beside the data: a system's own folder for such files may be small, or memory.
FILE_UPLOAD_TEMP_DIR = DATA_DIR / "uploading"
FILE_UPLOAD_HANDLERS = [
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "services_inventory.uploading.HoldingUploadHandler",
]
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
FILE_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024
UPLOAD_MAX_BYTES = environment.whole_number("UPLOAD_MAX_BYTES", default=2 * 1024**3, unit="bytes")

X_FRAME_OPTIONS = "DENY"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
MESSAGE_STORAGE = "program.typed.KeepingStorage"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_ENGINE = "program.sessions"
# A working day: devices are shared in crews' trucks and at counters.
SESSION_COOKIE_AGE = 12 * 60 * 60
# Staff who leave a session this long show their password before it goes on; crews on the road
# don't, as what they typed waits in the telephone.
IDLE_MINUTES = environment.whole_number("IDLE_MINUTES", default=60, unit="minutes")
# Whose accounts need a second step; those of the invented town's do if it is asked for.
SECOND_STEP_FOR = ("Compliance staff", "Administrator")
DEMO_SECOND_STEP = environment.yes_or_no("DEMO_SECOND_STEP")
OTP_TOTP_ISSUER = "Lead line program"  # what the app on a telephone calls it
CSRF_COOKIE_SAMESITE = "Lax"
BEHIND_HTTPS = environment.yes_or_no("BEHIND_HTTPS")
if BEHIND_HTTPS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [r"^healthy/$"]
    SESSION_COOKIE_SECURE = True
    CSRF_COOKIE_SECURE = True
    SECURE_HSTS_SECONDS = 31536000
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "object-src": [NONE],
        "base-uri": [SELF],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    }
}

REST_FRAMEWORK = {
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Lead service line program",
    "DESCRIPTION": "Work orders, pull records and completion records for contractors' devices.",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1/",
    "COMPONENT_SPLIT_REQUEST": True,
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "replacements.api.described.nothing_more",
    ],
    "ENUM_NAME_OVERRIDES": {
        "MaterialOrNothing": "replacements.api.serializers.MATERIALS_OR_NONE",
        "Capacity": "replacements.api.visiting.CAPACITY_CODES",
        "ConnectorOrNothing": "replacements.api.serializers.CONNECTORS_OR_NONE",
    },
}

# What day it is, for the apps below: they ask by these names and know no clock of their own.
TODAY = "program.clock.today"
NOW = "program.clock.now"
# The rule's values with the State's and the utility's own, and what the utility can show.
RULES_IN_FORCE = "program.rules.rules_in_force"
NEVER_HAD_LEAD = "program.rules.never_had_lead"

# What the apps above show on a line's page.
LINE_PANELS = [
    "program.views.line_panels.deadline_panel",
    "replacements.views.line_panel.work_panel",
]

# Long operations: kind -> what a page calls it, and who advances it.
RECORD_CHECKS = (
    "program.queries.seals.seals_hold",
    "program.queries.seals.later_columns_are_whole",
    "program.queries.row_digests.rows_are_as_written",
    "program.queries.seals.files_are_as_stored",
    "program.operations.people.accounts_are_as_changed",
)
BATCH_KINDS = {
    "INTAKE": {"label": "Intake file", "run": "services_inventory.operations.intake.intake_run"},
    "INTAKE_UNDO": {
        "label": "Intake file taken back",
        "run": "services_inventory.operations.undo.undo_run",
    },
    "BOUNDARIES": {
        "label": "Neighborhood boundaries",
        "run": "services_inventory.operations.boundaries.boundaries_run",
    },
    "DOCUMENTS": {
        "label": "Photographs and scans",
        "run": "services_inventory.operations.photographs.documents_run",
    },
    "WORKS": {
        "label": "Paving and main works",
        "run": "program.operations.plans.works.works_run",
    },
    "CENSUS": {"label": "Census areas", "run": "program.operations.plans.census.census_run"},
    "RESTATE": {"label": "Restatement", "run": "services_inventory.operations.restate.restate_run"},
    "REHEARSAL": {
        "label": "Rehearsal of a value",
        "run": "program.operations.own_values.rehearsal_run",
    },
    "SUBMISSION": {"label": "Annual submission", "run": "program.operations.submission_run"},
    "COMPLETIONS": {
        "label": "Completion bundle",
        "run": "replacements.completion.running.completions_run",
    },
    "PLAN": {"label": "Plan", "run": "program.operations.plans.plan_run"},
    # Whatever else waits goes before a kind that runs when idle.
    "SCENARIOS": {
        "label": "Scenarios",
        "run": "program.operations.plans.grid.grid_run",
        "when": "idle",
    },
    "LETTERS": {"label": "Letters", "run": "program.operations.notices.letters_run"},
    "NOTICES": {"label": "Notices owed", "run": "program.operations.notices.owe_run"},
}

# Seeing inside (docs/deploy.md): each answer and line of the log has its request's number; metrics
# and traces are off until somebody wants them.
DJANGO_GUID = {"GUID_HEADER_NAME": "X-Request-ID", "EXPOSE_HEADER": False}
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"numbered": {"()": "program.watching.NumberedLines"}},
    "formatters": {
        "text": {"format": "{before}{message}", "style": "{"},
        "json": {
            "()": "pythonjsonlogger.json.JsonFormatter",
            "fmt": "{asctime} {levelname} {name} {request_id} {message}",
            "style": "{",
        },
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "filters": ["numbered"],
            "formatter": environment.one_of("LOG_FORMAT", ("text", "json")),
        }
    },
    "root": {"handlers": ["console"], "level": environment.log_level("LOG_LEVEL", "WARNING")},
    "loggers": {"django_guid": {"level": "ERROR"}},
}
METRICS_KEY = environment.text("METRICS_KEY")
if METRICS_KEY:
    environment.count_across_processes(DATA_DIR / "metrics")
    INSTALLED_APPS.append("django_prometheus")
    MIDDLEWARE.insert(0, "django_prometheus.middleware.PrometheusBeforeMiddleware")
    MIDDLEWARE.append("django_prometheus.middleware.PrometheusAfterMiddleware")
    PROMETHEUS_EXPORT_MIGRATIONS = False
TRACES_TO = environment.web_address("TRACES_TO")
