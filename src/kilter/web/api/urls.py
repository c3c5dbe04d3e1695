"""Addresses of the programs' door: one view finds the operation by its table."""

from __future__ import annotations

from django.urls import re_path

from kilter.web.api.dispatch import api

urlpatterns = [re_path(r"^(?P<rest>[\s\S]*)$", api, name="api")]
