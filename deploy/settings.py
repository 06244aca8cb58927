"""All settings, environment first, safe by default. `deploy/checks.py` explains a bad value and its cure."""

from pathlib import Path

from django.utils.translation import gettext_lazy as _

from deploy import environment as env
from deploy.databases import database

BASE_DIR = Path(__file__).resolve().parent.parent
RELEASE = "0.1.0"

# --- What this instance is -----------------------------------------------------------------
DEMO = env.flag("TALLYGROVE_DEMO")
DEBUG = env.flag("TALLYGROVE_DEBUG")
DATA_DIR = env.folder("TALLYGROVE_DATA_DIR", BASE_DIR / "var")
PUBLIC_ADDRESS = env.text("TALLYGROVE_PUBLIC_ADDRESS")  # https://grove.example, empty on loopback
ON_LOOPBACK = not PUBLIC_ADDRESS
SECRET_KEY = env.secret("TALLYGROVE_SECRET_KEY", DATA_DIR / "secret_key")
ALLOWED_HOSTS = env.words("TALLYGROVE_HOSTS", "127.0.0.1,localhost,[::1]")
CSRF_TRUSTED_ORIGINS = [PUBLIC_ADDRESS] if PUBLIC_ADDRESS else []

# --- Applications --------------------------------------------------------------------------
INSTALLED_APPS = [
    "deploy",
    "species",
    "projects",
    "monitoring",
    "api",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "allauth",
    "allauth.account",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "deploy.headers.SecurityHeadersMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "projects.middleware.ActorMiddleware",
]
ROOT_URLCONF = "deploy.urls"
WSGI_APPLICATION = "deploy.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "projects.context.page_frame",
            ],
        },
    },
]

# --- Data ----------------------------------------------------------------------------------
DATABASES = {
    "default": database(
        env.text("TALLYGROVE_DATABASE"), data_dir=DATA_DIR, pool=env.flag("TALLYGROVE_DATABASE_POOL")
    )
}
# On SQLite uniqueness across empty columns is kept by the uuid5 keys of derived rows and by the services.
SILENCED_SYSTEM_CHECKS = ["models.W047"]
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
SHARED_CACHE = env.text("TALLYGROVE_CACHE")  # redis://127.0.0.1:6379/1; empty = one cache in each process
CACHES = {
    "default": {
        "BACKEND": f"django.core.cache.backends.{'redis.RedisCache' if SHARED_CACHE else 'locmem.LocMemCache'}",
        "LOCATION": SHARED_CACHE,
    }
}
MEDIA_ROOT = env.folder("TALLYGROVE_FILES", DATA_DIR / "files")
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
FILE_UPLOAD_MAX_MEMORY_SIZE = 1 * 1024 * 1024
COUNT_FILE_MAX_BYTES = 10 * 1024 * 1024

# --- Jobs ----------------------------------------------------------------------------------
BROKER = env.text("TALLYGROVE_BROKER")  # redis://127.0.0.1:6379/0; empty = embedded
JOBS_EMBEDDED = not BROKER
JOBS_EMBEDDED_THREAD = env.flag("TALLYGROVE_JOBS_THREAD", default=True)  # recompute in this process
CELERY_BROKER_URL = BROKER or "memory://"
CELERY_TASK_ALWAYS_EAGER = False
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_TIME_LIMIT = 900
CELERY_TASK_SOFT_TIME_LIMIT = 840
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_DEFAULT_QUEUE = env.text("TALLYGROVE_QUEUE", "tallygrove")
CELERY_TASK_PUBLISH_RETRY = False
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 30
CELERY_BROKER_CONNECTION_MAX_RETRIES = None
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 3600,
    "socket_connect_timeout": 2,
    "socket_timeout": 20,
    "health_check_interval": 25,
}
CELERY_TIMEZONE = "UTC"
CELERY_BEAT_SCHEDULE = {
    "sweep-dirty": {"task": "monitoring.tasks.sweep", "schedule": 10.0},
    "renew-reminders": {"task": "monitoring.tasks.renew_reminders", "schedule": 900.0},
    "send-letters": {"task": "monitoring.tasks.send_letters", "schedule": 900.0},
}

# --- People --------------------------------------------------------------------------------
AUTH_USER_MODEL = "projects.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_ADAPTER = "projects.accounts.ClosedSignup"
ACCOUNT_EMAIL_VERIFICATION = "none"  # people are invited by a manager; nobody signs up alone
ACCOUNT_PREVENT_ENUMERATION = True
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_LOGOUT_REDIRECT_URL = "/"
EMAIL_BACKEND = env.text("TALLYGROVE_EMAIL_BACKEND", "django.core.mail.backends.console.EmailBackend")
DEFAULT_FROM_EMAIL = env.text("TALLYGROVE_EMAIL_FROM", "tallygrove@localhost")

STUDIES = BASE_DIR / "deploy" / "benchmarks" / "results"  # what the page of evidence shows

# --- Web -----------------------------------------------------------------------------------
STATIC_URL = "/static/"
STATIC_ROOT = env.folder("TALLYGROVE_STATIC", DATA_DIR / "static")  # WhiteNoise wants it to exist
STATICFILES_DIRS = [BASE_DIR / "deploy" / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = DEBUG
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 14 * 24 * 3600
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_USE_SESSIONS = False
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = not ON_LOOPBACK
SECURE_SSL_REDIRECT = not ON_LOOPBACK
SECURE_HSTS_SECONDS = 0 if ON_LOOPBACK else 365 * 24 * 3600
SECURE_HSTS_INCLUDE_SUBDOMAINS = not ON_LOOPBACK
SECURE_HSTS_PRELOAD = not ON_LOOPBACK
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if not ON_LOOPBACK else None
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
MAP_TILE_URL = env.text("TALLYGROVE_MAP_TILE_URL")  # empty: maps show our own shapes only
FIELD_PASS_DAYS = env.whole("TALLYGROVE_FIELD_PASS_DAYS", 120)

# --- Language and time ---------------------------------------------------------------------
LANGUAGE_CODE = "en-gb"
LANGUAGES = [
    ("en-gb", _("English")),
    ("pt", _("Portuguese")),
    ("es", _("Spanish")),
    ("fr", _("French")),
    ("sw", _("Swahili")),
]
LOCALE_PATHS = [BASE_DIR / "deploy" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

# --- API -----------------------------------------------------------------------------------
REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "api.authentication.FieldPassAuthentication",
        "api.authentication.MemberAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["api.permissions.PolicyPermission"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["api.parsers.BoundedJSONParser"],
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    "EXCEPTION_HANDLER": "api.errors.problem_response",
    "UNAUTHENTICATED_USER": None,
    "URL_FORMAT_OVERRIDE": None,
    "NUM_PROXIES": 0 if ON_LOOPBACK else 1,  # whose X-Forwarded-For names the caller
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Tallygrove",
    "VERSION": RELEASE,
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "api.schema.document_refusals",
    ],
}

# --- Logging -------------------------------------------------------------------------------
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": env.text("TALLYGROVE_LOG_LEVEL", "INFO")},
}
