"""The first tables of this room."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("people", "0001_first_tables"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Entry",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("sequence", models.PositiveBigIntegerField()),
                ("when", models.DateTimeField()),
                ("what", models.CharField(max_length=60)),
                ("thing", models.CharField(max_length=40)),
                ("thing_id", models.UUIDField()),
                ("before", models.TextField(blank=True)),
                ("after", models.TextField(blank=True)),
                ("why", models.CharField(blank=True, max_length=400)),
                ("previous", models.CharField(blank=True, max_length=64)),
                ("hash", models.CharField(max_length=64)),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
                (
                    "who",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ["practice", "sequence"],
                "indexes": [models.Index(fields=["thing_id"], name="entries_of_a_thing")],
                "constraints": [
                    models.UniqueConstraint(fields=("practice", "sequence"), name="one_entry_at_each_place"),
                    models.UniqueConstraint(fields=("practice", "previous"), name="a_chain_does_not_fork"),
                ],
            },
        ),
    ]
