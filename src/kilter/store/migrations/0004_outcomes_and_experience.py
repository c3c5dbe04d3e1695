"""How visits ended, what was learned from them, and keys of other collections; written once like their neighbours."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from kilter.store.triggers import protect, unprotect

TABLES = ("visitoutcome", "learnedentry", "knownsharer")


def forwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Puts the triggers in place."""
    for name in TABLES:
        protect(editor, f"store_{name}")


def backwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Takes them away."""
    for name in TABLES:
        unprotect(editor, f"store_{name}")


def _row(**fields: Any) -> list[tuple[str, Any]]:
    """The columns of a row that is written once, with what it supersedes."""
    who = models.ForeignKey(
        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
    )
    key = models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")
    return [("id", key), ("at", models.DateTimeField()), *fields.items(), ("who", who)]


def _superseding(model: str) -> dict[str, Any]:
    return {
        "withdrawn": models.BooleanField(default=False),
        "supersedes": models.OneToOneField(
            blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="superseded_by",
            to=f"store.{model}",
        ),
    }  # fmt: skip


class Migration(migrations.Migration):
    """After the jobs' column."""

    dependencies = [("store", "0003_job_taken")]
    operations = [
        migrations.CreateModel(
            "VisitOutcome",
            _row(
                found=models.CharField(max_length=30),
                parts=models.JSONField(default=dict),
                works=models.CharField(max_length=20),
                said_by=models.CharField(max_length=200, blank=True, default=""),
                words=models.TextField(blank=True, default=""),
                visit=models.ForeignKey(
                    on_delete=django.db.models.deletion.PROTECT, related_name="outcomes", to="store.visit"
                ),
                **_superseding("visitoutcome"),
            ),
            {"abstract": False},
        ),
        migrations.CreateModel(
            "LearnedEntry",
            _row(
                number=models.PositiveIntegerField(unique=True),
                kind=models.CharField(max_length=20),
                body=models.TextField(),
                before=models.CharField(max_length=64),
                digest=models.CharField(max_length=64),
            ),
            {"abstract": False},
        ),
        migrations.CreateModel(
            "KnownSharer",
            _row(
                name=models.CharField(max_length=80),
                key=models.CharField(max_length=64),
                trust=models.FloatField(),
                why=models.TextField(blank=True, default=""),
                **_superseding("knownsharer"),
            ),
            {"abstract": False},
        ),
        migrations.RunPython(forwards, backwards),
    ]
