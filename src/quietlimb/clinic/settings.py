"""Settings of the web framework. What differs between installations comes from `Configuration` alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF

from quietlimb.clinic.configuration import Configuration
from quietlimb.clinic.stores import PRACTICE, TEACHING

CONFIGURATION = Configuration.from_environment()
HERE = Path(__file__).parent

SECRET_KEY = CONFIGURATION.secret
DEBUG = False
ALLOWED_HOSTS = CONFIGURATION.hosts
DATABASES = {PRACTICE: CONFIGURATION.database, TEACHING: CONFIGURATION.teaching_database}
DATABASE_ROUTERS = ["quietlimb.clinic.stores.Router"]
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
ROOT_URLCONF = "quietlimb.clinic.urls"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "csp",
    "django_htmx",
    "quietlimb.clinic.people",
    "quietlimb.clinic.animals",
    "quietlimb.clinic.equipment",
    "quietlimb.clinic.sessions",
    "quietlimb.clinic.journal",
    "quietlimb.clinic.teaching",
    "quietlimb.clinic.comparisons",
    "quietlimb.clinic.conversions",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "quietlimb.clinic.people.expiry.ExpiryMiddleware",
    "quietlimb.clinic.teaching.room.RoomMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HERE / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "quietlimb.clinic.frame.frame",
            ],
        },
    }
]

# -- people ------------------------------------------------------------------------------------------------------------

AUTH_USER_MODEL = "people.Person"
AUTHENTICATION_BACKENDS = ["quietlimb.clinic.people.known.PeopleOfPractices"]
PASSWORD_HASHERS = ["quietlimb.clinic.people.hashing.Hasher"]
AUTH_PASSWORD_VALIDATORS: list[dict[str, Any]] = [
    {"NAME": "quietlimb.clinic.limits_told.LongEnough", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"

# A browser stays known for a working day; after some minutes without a touch a person says again who it is.
SESSION_COOKIE_AGE = 12 * 3600
IDLE_MINUTES = 20
SESSION_COOKIE_NAME = "quietlimb"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
# Not every browser keeps a secure cookie that came without TLS from this machine itself; beyond it TLS is a must.
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = CONFIGURATION.encrypted
CSRF_COOKIE_NAME = "quietlimb-form"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "quietlimb.clinic.frame.form_too_old"

# -- what a browser may do ---------------------------------------------------------------------------------------------

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "object-src": [NONE],
    },
}
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 500

# -- language, files, log ----------------------------------------------------------------------------------------------

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English")]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"
STATIC_URL = "/static/"
STATIC_FOLDER = HERE / "static"

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {message}", "style": "{"}},
    "handlers": {"terminal": {"class": "logging.StreamHandler", "formatter": "line"}},
    "loggers": {
        "quietlimb": {"handlers": ["terminal"], "level": "INFO"},
        "django": {"handlers": ["terminal"], "level": "WARNING"},
    },
}
