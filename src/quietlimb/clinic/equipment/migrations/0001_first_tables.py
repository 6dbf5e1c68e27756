"""The first tables of this room."""

import uuid

import django.db.models.deletion
from django.db import migrations, models

import quietlimb.clinic.equipment.models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("people", "0001_first_tables"),
    ]

    operations = [
        migrations.CreateModel(
            name="Cuff",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=120, verbose_name="cuff")),
                ("width_cm", models.FloatField(verbose_name="width of the bladder, cm")),
                ("length_cm", models.FloatField(blank=True, null=True, verbose_name="length of the bladder, cm")),
                ("out_of_service", models.BooleanField(default=False, verbose_name="out of service")),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
            ],
            options={
                "ordering": ["width_cm", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("width_cm__gte", 0.5), ("width_cm__lte", 100.0)), name="possible_width"
                    )
                ],
            },
        ),
        migrations.CreateModel(
            name="Instrument",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=120, verbose_name="instrument")),
                ("serial_number", models.CharField(blank=True, max_length=80, verbose_name="serial number")),
                (
                    "technique",
                    models.CharField(
                        choices=[("oscillometric", "oscillometric"), ("doppler", "Doppler")],
                        max_length=20,
                        verbose_name="kind",
                    ),
                ),
                (
                    "slots",
                    models.JSONField(
                        default=quietlimb.clinic.equipment.models.usual_slots,
                        validators=[quietlimb.clinic.equipment.models.check_slots],
                        verbose_name="order of the numbers",
                    ),
                ),
                ("out_of_service", models.BooleanField(default=False, verbose_name="out of service")),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
            ],
            options={
                "ordering": ["name", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("technique__in", ["oscillometric", "doppler"])), name="known_technique"
                    )
                ],
            },
        ),
    ]
