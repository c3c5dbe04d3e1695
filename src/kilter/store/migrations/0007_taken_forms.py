"""The table of forms that were taken, by which a second press of the same button is known in every process."""

from __future__ import annotations

from typing import Any

from django.core.management import call_command
from django.db import migrations

from kilter.store.settings import TAKEN_FORMS


def forwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Has the framework make its table; nothing of the record is in it, and old rows go by themselves."""
    call_command("createcachetable", TAKEN_FORMS, database=editor.connection.alias, verbosity=0)


def backwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Takes it away."""
    editor.execute(f'DROP TABLE IF EXISTS "{TAKEN_FORMS}"')


class Migration(migrations.Migration):
    """After the soaks."""

    dependencies = [("store", "0006_soak")]
    operations = [migrations.RunPython(forwards, backwards)]
