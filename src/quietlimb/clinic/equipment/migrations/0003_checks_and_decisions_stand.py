"""Checks and decisions refuse changes. Their triggers go with the tables, so the reverse has nothing to do."""

from django.db import migrations

from quietlimb.clinic.journal.protection import protect


class Migration(migrations.Migration):
    dependencies = [("equipment", "0002_checks_and_decisions")]

    operations = [
        migrations.RunPython(protect("equipment_check", "equipment_decision"), migrations.RunPython.noop),
    ]
