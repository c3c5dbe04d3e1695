"""Soaks of a visit: plans and what was found; written once like their neighbours."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from kilter.store.triggers import protect, unprotect

TABLES = ("soakplan", "soakfinding")


def forwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Puts the triggers in place."""
    for name in TABLES:
        protect(editor, f"store_{name}")


def backwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Takes them away."""
    for name in TABLES:
        unprotect(editor, f"store_{name}")


def _key(to: str, related: str) -> Any:
    return models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name=related, to=to)


def _row(model: str, **fields: Any) -> list[tuple[str, Any]]:
    """The columns of a row that is written once, with what it supersedes."""
    key = models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")
    earlier = models.OneToOneField(
        blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="superseded_by",
        to=f"store.{model}",
    )  # fmt: skip
    return [
        ("id", key),
        ("at", models.DateTimeField()),
        *fields.items(),
        ("words", models.TextField(blank=True, default="")),
        ("supersedes", earlier),
        ("who", _key(settings.AUTH_USER_MODEL, "+")),
    ]


class Migration(migrations.Migration):
    """After the objects on display."""

    dependencies = [("store", "0005_on_display")]
    operations = [
        migrations.CreateModel(
            "SoakPlan",
            _row(
                "soakplan",
                hours=models.FloatField(),
                state=models.CharField(max_length=120, blank=True, default=""),
                channels=models.JSONField(default=list),
                visit=_key("store.visit", "soak_plans"),
            ),
            {"abstract": False},
        ),
        migrations.CreateModel(
            "SoakFinding",
            _row(
                "soakfinding",
                logs=models.JSONField(default=list),
                failures=models.PositiveIntegerField(default=0),
                verdict=models.CharField(max_length=20),
                told=models.JSONField(default=dict),
                plan=_key("store.soakplan", "findings"),
            ),
            {"abstract": False},
        ),
        migrations.RunPython(forwards, backwards),
    ]
