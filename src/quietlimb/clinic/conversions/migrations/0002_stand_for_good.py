"""What a conversion says is not changed, and none is removed: the database refuses it.

A later migration that makes the table anew on SQLite has to protect it again. The triggers go with the table, so the
reverse has nothing to do.
"""

from django.db import migrations

from quietlimb.clinic.journal.protection import protect


class Migration(migrations.Migration):
    dependencies = [("conversions", "0001_first_tables")]

    operations = [migrations.RunPython(protect("conversions_broughtconversion"), migrations.RunPython.noop)]
