"""Django's settings for the record alone; the pages add theirs to these."""

from __future__ import annotations

import secrets

from kilter.measure.tables import table
from kilter.store.place import KEY_FILE, django_database, place

PLACE = place()


def _secret_key() -> str:
    """The key that `kilter store init` made; before that, one for this process only."""
    path = PLACE.home / KEY_FILE
    return path.read_text("ascii").strip() if path.is_file() else secrets.token_urlsafe(48)


SECRET_KEY = _secret_key()
INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "kilter.store",
]
AUTH_USER_MODEL = "store.Person"
DATABASES = {"default": django_database(PLACE)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
TAKEN_FORMS = "store_taken_forms"
"""Table of the cache; the pages keep in it which forms were taken, and it is thrown away without loss."""
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": TAKEN_FORMS,
        "OPTIONS": {"MAX_ENTRIES": int(table("web")["kept"]["forms"])},
    }
}
USE_TZ = True
TIME_ZONE = "UTC"
DATABASE_ROUTERS: list[str] = []
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
