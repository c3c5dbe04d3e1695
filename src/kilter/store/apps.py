"""The record as a Django application."""

from __future__ import annotations

from django.apps import AppConfig


class StoreConfig(AppConfig):
    """Named 'store' in tables and migrations."""

    name = "kilter.store"
    label = "store"
    verbose_name = "the record"
