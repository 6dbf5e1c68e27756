"""Signed values and amendments refuse changes. Their triggers go with the tables, so the reverse has nothing to do."""

from django.db import migrations

from quietlimb.clinic.journal.protection import protect


class Migration(migrations.Migration):
    dependencies = [("measuring", "0001_first_tables")]

    operations = [
        migrations.RunPython(protect("measuring_signedvalue", "measuring_amendment"), migrations.RunPython.noop)
    ]
