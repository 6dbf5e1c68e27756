"""What animals and owners are found by, folded, in a column of its own; those that are there get theirs."""

from typing import Any

from django.db import migrations, models

from quietlimb.clinic.sought import sought_by

SOUGHT_BY = {"owner": ("name", "telephone", "link_id"), "animal": ("name", "link_id")}


def fill(apps: Any, schema_editor: Any) -> None:
    """Fold the names that are there."""
    for name, columns in SOUGHT_BY.items():
        rows = apps.get_model("animals", name).objects.using(schema_editor.connection.alias)
        for row in rows.only("pk", *columns).iterator(chunk_size=500):
            rows.filter(pk=row.pk).update(sought=sought_by(*(getattr(row, column) for column in columns)))


class Migration(migrations.Migration):
    dependencies = [("animals", "0005_age_told_in_years")]

    operations = [
        *(
            migrations.AddField(
                model_name=name,
                name="sought",
                field=models.TextField(blank=True, db_default="", default="", editable=False),
            )
            for name in SOUGHT_BY
        ),
        # the column goes with its own reverse
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
