"""Objects on display: periods, hours and room, inspections, parts that wear; written once like their neighbours."""

from __future__ import annotations

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from kilter.store.triggers import protect, unprotect

TABLES = ("displayperiod", "runningentry", "displayinspection", "wearingparts", "partsrenewed")


def forwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Puts the triggers in place."""
    for name in TABLES:
        protect(editor, f"store_{name}")


def backwards(apps: Any, editor: Any) -> None:  # noqa: ARG001
    """Takes them away."""
    for name in TABLES:
        unprotect(editor, f"store_{name}")


def _key(to: str, related: str, **more: Any) -> Any:
    return models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name=related, to=to, **more)


def _row(model: str, related: str, **fields: Any) -> list[tuple[str, Any]]:
    """The columns of a row about an object that is written once, with what it supersedes."""
    key = models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")
    earlier = models.OneToOneField(
        blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name="superseded_by",
        to=f"store.{model}",
    )  # fmt: skip
    return [
        ("id", key),
        ("at", models.DateTimeField()),
        ("withdrawn", models.BooleanField(default=False)),
        ("why", models.TextField(blank=True, default="")),
        *fields.items(),
        ("object", _key("store.collectionobject", related)),
        ("supersedes", earlier),
        ("who", _key(settings.AUTH_USER_MODEL, "+")),
    ]


def _number() -> Any:
    return models.FloatField(blank=True, null=True)


def _day() -> Any:
    return models.DateField(blank=True, null=True)


def _words() -> Any:
    return models.TextField(blank=True, default="")


class Migration(migrations.Migration):
    """After the outcomes of visits."""

    dependencies = [("store", "0004_outcomes_and_experience")]
    operations = [
        migrations.CreateModel(
            "DisplayPeriod",
            _row(
                "displayperiod",
                "display_periods",
                begin=models.DateField(),
                end=_day(),
                place=models.CharField(max_length=200, blank=True, default=""),
                conditions=_words(),
                hours_a_week=_number(),
                switch_ons_a_week=_number(),
                hours_before=_number(),
                switch_ons_before=_number(),
                warmth=_number(),
            ),
            {"abstract": False},
        ),
        migrations.CreateModel(
            "RunningEntry",
            _row(
                "runningentry",
                "running_entries",
                kind=models.CharField(max_length=20),
                day=models.DateField(),
                first=_day(),
                hours=_number(),
                switch_ons=_number(),
                anew=models.BooleanField(default=False),
                celsius=_number(),
                humidity=_number(),
                words=_words(),
            ),
            {"abstract": False},
        ),
        migrations.CreateModel(
            "DisplayInspection",
            _row(
                "displayinspection",
                "display_inspections",
                key=models.CharField(max_length=60),
                day=models.DateField(),
                outcome=models.CharField(max_length=20),
                words=_words(),
                inspector=models.CharField(max_length=200, blank=True, default=""),
                again=_day(),
            ),
            {"abstract": False},
        ),
        migrations.CreateModel(
            "WearingParts",
            _row(
                "wearingparts",
                "wearing_parts",
                kind=models.CharField(max_length=30),
                count=models.PositiveIntegerField(),
                words=_words(),
            ),
            {"abstract": False},
        ),
        migrations.CreateModel(
            "PartsRenewed",
            _row(
                "partsrenewed",
                "parts_renewed",
                kind=models.CharField(max_length=30),
                day=models.DateField(),
                count=models.PositiveIntegerField(),
                failed=models.PositiveIntegerField(blank=True, null=True),
                words=_words(),
                repair=_key("store.repair", "parts_renewed", blank=True, null=True),
            ),
            {"abstract": False},
        ),
        migrations.RunPython(forwards, backwards),
    ]
