"""The pages as a Django application."""

from __future__ import annotations

from django.apps import AppConfig


class WebConfig(AppConfig):
    """Templates, static files and translations."""

    name = "kilter.web"
    label = "web"
    verbose_name = "the pages"
