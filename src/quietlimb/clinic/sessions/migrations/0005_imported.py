"""A session can come from elsewhere. Columns with a default of the database leave table and triggers as they are."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("measuring", "0004_withdrawn")]

    operations = [
        migrations.AddField(
            "session", "imported_id", models.CharField(blank=True, db_default="", default="", max_length=64)
        ),
        migrations.AddField("session", "imported_from", models.TextField(blank=True, db_default="", default="")),
        migrations.AddConstraint(
            "session",
            models.UniqueConstraint(
                condition=models.Q(("imported_id", ""), _negated=True),
                fields=("practice", "imported_id"),
                name="a_session_is_imported_once",
            ),
        ),
    ]
