"""An amendment can take a value back. A column with a default of the database leaves table and triggers as they are."""

from django.db import migrations, models

from quietlimb.clinic.journal.protection import protect


class Migration(migrations.Migration):
    dependencies = [("measuring", "0003_typed_by")]

    operations = [
        migrations.AddField("amendment", "withdrawn", models.BooleanField(db_default=False, default=False)),
        migrations.RunPython(protect("measuring_amendment"), migrations.RunPython.noop),
    ]
