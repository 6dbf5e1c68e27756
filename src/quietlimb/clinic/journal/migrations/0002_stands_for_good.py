"""The journal refuses changes. Its triggers go with the table, so the reverse has nothing to do."""

from django.db import migrations

from quietlimb.clinic.journal.protection import protect


class Migration(migrations.Migration):
    dependencies = [("journal", "0001_first_tables")]

    operations = [migrations.RunPython(protect("journal_entry"), migrations.RunPython.noop)]
