"""Rows that are written once: the database itself refuses to change or delete them."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.db import models


def person_key() -> Any:
    """Who did it; a person's row stays when personal data is erased."""
    return models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")


class AppendOnly(models.Model):
    """
    Written once. What replaces a row is a new row that names it under `supersedes`, where the table has that.

    Triggers that refuse UPDATE and DELETE are made by a migration (`kilter.store.triggers`), for every subclass.
    """

    at = models.DateTimeField()
    who = person_key()

    class Meta:
        abstract = True
