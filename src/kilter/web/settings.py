"""Django's settings for the record with its pages."""

from __future__ import annotations

import os
from pathlib import Path

from kilter.store.settings import (
    AUTH_PASSWORD_VALIDATORS,
    AUTH_USER_MODEL,
    CACHES,
    DATABASE_ROUTERS,
    DATABASES,
    DEFAULT_AUTO_FIELD,
    PLACE,
    SECRET_KEY,
    TIME_ZONE,
    USE_TZ,
)
from kilter.store.settings import INSTALLED_APPS as RECORD_APPS

__all__ = ["AUTH_PASSWORD_VALIDATORS", "AUTH_USER_MODEL", "CACHES", "DATABASES", "DATABASE_ROUTERS",
           "DEFAULT_AUTO_FIELD", "PLACE", "SECRET_KEY", "TIME_ZONE", "USE_TZ"]  # fmt: skip

HOSTS = "KILTER_HOSTS"
"""Names under which this machine may be asked, joined by commas; its own loopback names unless given."""
HERE = Path(__file__).resolve().parent

DEBUG = False
ALLOWED_HOSTS = list(filter(None, os.environ.get(HOSTS, "localhost,127.0.0.1,[::1]").split(",")))
INSTALLED_APPS = [*RECORD_APPS, "django.contrib.messages", "django.contrib.staticfiles", "django_htmx", "kilter.web"]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "kilter.web.policy.content_policy",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "kilter.web.trouble.told_plainly",
]
ROOT_URLCONF = "kilter.web.urls"
WSGI_APPLICATION = "kilter.web.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "kilter.web.context.of_every_page",
            ],
            "builtins": [
                "django.templatetags.i18n", "django.templatetags.static", "kilter.web.templatetags.bench",
                "kilter.web.templatetags.spoken", "kilter.web.templatetags.display",
                "kilter.web.templatetags.soak_figures",
            ],
        },
    }
]
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LANGUAGE_CODE = "en"
USE_I18N = True
LOCALE_PATHS = [str(HERE / "locale")]
LANGUAGE_COOKIE_SAMESITE = "Lax"
STATIC_URL = "/static/"
STATICFILES_DIRS: list[str] = []
STATIC_ROOT = str(HERE / "static")
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
LOGIN_URL = "door"
AUTHENTICATION_BACKENDS = ["django.contrib.auth.backends.ModelBackend"]
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 60 * 60 * 12
SESSION_ENGINE = "django.contrib.sessions.backends.db"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "kilter.web.trouble.forged"
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 << 20
DATA_UPLOAD_MAX_NUMBER_FIELDS = 400
FILE_UPLOAD_MAX_MEMORY_SIZE = 1 << 20
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"stderr": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {"django.request": {"level": "ERROR"}, "django.security": {"level": "ERROR"}},
}
