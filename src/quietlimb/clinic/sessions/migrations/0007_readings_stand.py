"""What a reading says is not changed, and no reading is removed: the database refuses it.

A later migration that makes the table of readings anew on SQLite has to protect it again. The triggers go with the table,
so the reverse has nothing to do.
"""

from django.db import migrations

from quietlimb.clinic.journal.protection import protect


class Migration(migrations.Migration):
    dependencies = [("measuring", "0006_settling_and_calling")]

    operations = [migrations.RunPython(protect("measuring_reading"), migrations.RunPython.noop)]
