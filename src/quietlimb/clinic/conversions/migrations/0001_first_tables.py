"""Conversions, as they were brought in."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("equipment", "0003_checks_and_decisions_stand"),
        ("people", "0004_another_practice"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="BroughtConversion",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("brought_at", models.DateTimeField()),
                ("file_name", models.CharField(max_length=200)),
                ("sha256", models.CharField(max_length=64)),
                ("content", models.BinaryField()),
                ("fingerprint", models.CharField(max_length=64)),
                ("study", models.CharField(max_length=400, verbose_name="study")),
                ("version", models.CharField(max_length=60, verbose_name="version")),
                ("withdrawn_at", models.DateTimeField(blank=True, null=True, verbose_name="withdrawn")),
                (
                    "withdrawn_why",
                    models.CharField(blank=True, default="", max_length=400, verbose_name="why withdrawn"),
                ),
                (
                    "brought_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "instrument",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="equipment.instrument",
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
                (
                    "withdrawn_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["-brought_at", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("withdrawn_at", None), ("withdrawn_by", None)),
                            models.Q(("withdrawn_at__isnull", False), ("withdrawn_by__isnull", False)),
                            _connector="OR",
                        ),
                        name="a_withdrawn_conversion_says_by_whom",
                    )
                ],
            },
        ),
    ]
