"""Settings of every process: read from the environment, refused by name when they are not understood.

With nothing set, Footing runs by itself on one machine, everything in FOOTING_VAR. DATABASE_URL,
REDIS_URL and FOOTING_S3_BUCKET move the same code to real services, one by one.
"""

import os
from datetime import timedelta
from pathlib import Path

from kombu import Queue

from studio.config import env, folder, logs, policy

BASE_DIR = Path(__file__).resolve().parents[2]
ENV = env.Environment(os.environ)

# --- the machine ---------------------------------------------------------------------------

PRODUCTION = ENV.choice("FOOTING_MODE", ("embedded", "production"), "embedded") == "production"
VAR = ENV.folder("FOOTING_VAR", BASE_DIR / "var")
VAR_PROBLEM = folder.prepare(VAR)  # said by `check`, `serve` and the web process; measuring a file needs no folder
HOST = ENV.text("FOOTING_HOST", "127.0.0.1")
PORT = ENV.integer("FOOTING_PORT", 8090, low=1, high=65535)
WEB_PROCESSES = ENV.integer("FOOTING_WEB_PROCESSES", 1, low=1, high=64)
WEB_THREADS = ENV.integer("FOOTING_WEB_THREADS", 8, low=1, high=64)
WORKERS = ENV.integer("FOOTING_WORKERS", 1, low=1, high=64)
TRUSTED_PROXY = ENV.text("FOOTING_TRUSTED_PROXY")  # address of the proxy whose X-Forwarded-… headers are believed
LOGGING = logs.settings(ENV.choice("FOOTING_LOG_LEVEL", ("DEBUG", "INFO", "WARNING"), "INFO"))
DEMO_SIGN_INS_FILE = VAR / "demo_sign_ins.txt"
DEMO_UNPLAYED_FILE = VAR / "demo_unplayed"  # here while the demo students have not played all of their past

# Numeric libraries start a thread per core unless told before their first import; a worker has one core.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ.setdefault(name, "1")
if not VAR_PROBLEM:
    os.environ.setdefault("NUMBA_CACHE_DIR", str(VAR / "numba"))

# --- safety --------------------------------------------------------------------------------

DEBUG = ENV.flag("FOOTING_DEBUG")
ORIGINS = ENV.origins("FOOTING_ORIGINS")
SECRET_KEY = ENV.text("FOOTING_SECRET_KEY")
if SECRET_KEY and (len(SECRET_KEY) < 50 or len(set(SECRET_KEY)) < 10 or "insecure" in SECRET_KEY.lower()):
    raise env.SettingRefused("FOOTING_SECRET_KEY is weak. Use 50 random characters or more.")
if PRODUCTION:
    if DEBUG:
        raise env.SettingRefused("FOOTING_DEBUG shows secrets to strangers. Leave it out in production.")
    if not SECRET_KEY:
        raise env.SettingRefused("FOOTING_SECRET_KEY is missing. Production needs 50 random characters or more.")
    if not ORIGINS or any(origin.startswith("http:") for origin in ORIGINS):
        raise env.SettingRefused("FOOTING_ORIGINS must name the site's https address: https://tones.example.org.")
elif not SECRET_KEY and not VAR_PROBLEM:
    SECRET_KEY = folder.secret_key(VAR / "secret_key")

ALLOWED_HOSTS = [*map(env.host_of, ORIGINS), "localhost", "127.0.0.1", "[::1]"]
CSRF_TRUSTED_ORIGINS = ORIGINS
SECURE_HSTS_SECONDS = 31_536_000 if PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = SECURE_SSL_REDIRECT = PRODUCTION
SECURE_REDIRECT_EXEMPT = [r"^(healthz|readyz|metrics)$"]  # asked over plain HTTP by the machine next door
SECURE_REFERRER_POLICY = "same-origin"
SESSION_ENGINE = "studio.sessions"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"  # said once, and in no cookie
SESSION_COOKIE_NAME = "__Host-footing" if PRODUCTION else "footing"
CSRF_COOKIE_NAME = "__Host-footing-csrf" if PRODUCTION else "footing-csrf"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = PRODUCTION
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 30 * 24 * 3600  # seconds; a student's own phone stays signed in for a month of not playing
PERMISSIONS_POLICY, CONTENT_SECURITY_POLICY = policy.PERMISSIONS, policy.CONTENT

# --- the application -----------------------------------------------------------------------

INSTALLED_APPS = [
    "studio.config.support.SupportConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "rest_framework",
    "drf_spectacular",
    "axes",
    "csp",
    "studio.config",
    "studio",
    "assignments",
    "analysis",
]
MIDDLEWARE = [
    "studio.config.metrics.Timed",
    "studio.config.headers.Headers",
    "csp.middleware.CSPMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "studio.visits.Visit",
    "studio.languages.OwnLanguage",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "axes.middleware.AxesMiddleware",
]
ROOT_URLCONF = "studio.config.urls"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,  # of the packages that Footing builds on; its own pages are all in templates/
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch"), ("fr", "français")]
LOCALE_PATHS = [BASE_DIR / "templates" / "locale"]
FORMAT_MODULE_PATH = "studio.formats"
LANGUAGE_COOKIE_NAME = "__Host-footing-language" if PRODUCTION else "footing-language"
LANGUAGE_COOKIE_AGE = 365 * 24 * 3600  # seconds
LANGUAGE_COOKIE_SECURE = PRODUCTION
LANGUAGE_COOKIE_HTTPONLY = True
TIME_ZONE = "UTC"  # instants are kept in UTC; a studio's own zone turns them into its days
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- people --------------------------------------------------------------------------------

AUTH_USER_MODEL = "studio.User"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "django.contrib.auth.backends.ModelBackend"]
PASSWORD_HASHERS = ["studio.hashers.Argon2"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
# Five failures in a quarter of an hour for one account from one address: a stranger cannot lock a student out.
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_CLIENT_IP_CALLABLE = "studio.throttle.line_of"
AXES_RESET_ON_SUCCESS = AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False
AXES_LOCKOUT_TEMPLATE = "studio/locked_out.html"

# --- rows, recordings, pages ---------------------------------------------------------------

DATABASE_URL = ENV.url("DATABASE_URL", ("postgres", "postgresql"))
DATABASES = {
    "default": env.postgres_database(DATABASE_URL) if DATABASE_URL else env.sqlite_database(VAR / "footing.sqlite3")
}
if PRODUCTION and not DATABASE_URL:
    network = folder.network_file_system(VAR, folder.mounts())
    if network:
        raise env.SettingRefused(f"FOOTING_VAR is on {network}, where SQLite loses data. Set DATABASE_URL instead.")

S3_BUCKET = ENV.text("FOOTING_S3_BUCKET")
S3_OPTIONS = env.s3_store(S3_BUCKET, ENV.url("FOOTING_S3_ENDPOINT", ("https", "http")), ENV.text("FOOTING_S3_REGION"))
MEDIA_ROOT = VAR / "takes"  # under no URL: recordings are served by views that ask who is asking
STATIC_URL = "/static/"
STATIC_ROOT = VAR / "static"
STORAGES = {
    "default": {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": S3_OPTIONS}
    if S3_BUCKET
    else {"BACKEND": "analysis.storage.DurableStorage"},
    "staticfiles": {
        "BACKEND": "studio.config.static.HashedStatic"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
WHITENOISE_ALLOW_ALL_ORIGINS = False  # no other site has a use for them
WHITENOISE_USE_FINDERS = not PRODUCTION  # straight from the packages: no collecting before the first start
CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}
LARGEST_UPLOAD_BYTES = 150 * 1024 * 1024
SCANNER = ENV.command("FOOTING_SCANNER")  # a command that reads a recording and ends with 0 where nothing is wrong

# --- letters -------------------------------------------------------------------------------

MAIL = ENV.url("FOOTING_MAIL", ("smtp", "smtps"))  # without one nothing is sent, and the pages say so
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if MAIL else 'dummy'}.EmailBackend"
EMAIL_HOST, EMAIL_PORT, EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = env.mail_server(MAIL)
EMAIL_USE_SSL, EMAIL_USE_TLS = env.mail_in_private(MAIL)
EMAIL_TIMEOUT = 10  # seconds
DEFAULT_FROM_EMAIL = ENV.text("FOOTING_MAIL_FROM", "footing@localhost")
ADDRESS = ORIGINS[0] if ORIGINS else f"http://{HOST}:{PORT}"  # what links in letters begin with
PUSH = env.push(ENV.flag("FOOTING_PUSH"), ADDRESS)  # notes through the services of the browsers' makers

# --- the REST API --------------------------------------------------------------------------

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_THROTTLE_CLASSES": ["studio.api_rates.SharedRate"],
    # A fifteen-minute day is sixty takes, and three such days may have waited on a phone without network.
    "DEFAULT_THROTTLE_RATES": {"reads": "3600/hour", "uploads": "400/hour", "parts": "4000/hour"},
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Footing",
    "DESCRIPTION": "Takes and standings of a saxophone studio. Sign in first; the session's cookie is the key.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.1",
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SERVE_INCLUDE_SCHEMA": False,
    "COMPONENT_SPLIT_REQUEST": True,
}

# --- the queue -----------------------------------------------------------------------------

REDIS_URL = ENV.url("REDIS_URL", ("redis", "rediss", "redis+socket"))
BROKER_SOCKET = folder.socket_file(VAR)
CELERY_BROKER_URL = REDIS_URL or f"redis+socket://{BROKER_SOCKET}"
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 3600,
    "socket_timeout": 5,  # a broker that accepts and never answers; the web process waits for 2 (wsgi.py)
    "socket_connect_timeout": 2,
    "health_check_interval": 10,
}
CELERY_TASK_DEFAULT_QUEUE = "takes"
SETTLING_QUEUE = "settling"  # whoever is measured does not wait behind those who aren't; and each queue can be counted
CELERY_TASK_QUEUES = [Queue(name, routing_key=name) for name in (CELERY_TASK_DEFAULT_QUEUE, SETTLING_QUEUE)]
CELERY_TASK_ROUTES = {"assignments.settle": {"queue": SETTLING_QUEUE}}
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_IGNORE_RESULT = True  # results are rows
CELERY_TASK_PUBLISH_RETRY = False  # the row is the truth, the message a nudge: the sweeper sends it again
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = False  # a take that kills its worker would come back for ever
CELERY_TASK_SOFT_TIME_LIMIT = 60  # seconds
CELERY_TASK_TIME_LIMIT = 75
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_MAX_TASKS_PER_CHILD = 200
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
PRELOAD = ["analysis.core.measure"]  # loaded once in the worker's parent and shared by its children; never in the web
SWEEP = "assignments.sweeper.sweep"
SWEEP_EVERY_S = 10
METRICS_TOKEN = ENV.text("FOOTING_METRICS_TOKEN")  # who sends it as a bearer token may read /metrics

ENV.refuse_unknown()
