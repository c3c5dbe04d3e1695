"""How many workers took a job up."""

from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    """After the triggers; the table of jobs has none."""

    dependencies = [("store", "0002_append_only")]
    operations = [migrations.AddField("job", "taken", models.PositiveSmallIntegerField(default=0))]
