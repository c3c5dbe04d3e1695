"""Triggers on every table that is written once, and the six roles."""

from __future__ import annotations

from typing import Any

from django.db import migrations

from kilter.store.triggers import protect, unprotect

ROLES = ("reader", "recorder", "repairer", "approver", "registrar", "administrator")
WRITTEN_ONCE = (
    "approval", "attachment", "boardedition", "boardfile", "filing", "gatecheck", "journalrow", "knownboard",
    "objectedition", "partmove", "proposal", "proposalend", "proposalversion", "removedpart", "repair", "statement",
    "visit", "visitentry", "visitevent",
)  # fmt: skip


def forwards(apps: Any, editor: Any) -> None:
    """Puts them in place."""
    for name in WRITTEN_ONCE:
        protect(editor, f"store_{name}")
    protect(editor, "store_collectionobject", updates=False)
    group = apps.get_model("auth", "Group")
    for name in ROLES:
        group.objects.using(editor.connection.alias).get_or_create(name=name)


def backwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Takes the triggers away."""
    for name in (*WRITTEN_ONCE, "collectionobject"):
        unprotect(editor, f"store_{name}")


class Migration(migrations.Migration):
    """After the tables."""

    dependencies = [("store", "0001_initial"), ("auth", "0012_alter_user_first_name_max_length")]
    operations = [migrations.RunPython(forwards, backwards)]
