"""The first tables of this room."""

import uuid

import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="Person",
            fields=[
                ("password", models.CharField(max_length=128, verbose_name="password")),
                ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("username", models.CharField(max_length=60, unique=True, verbose_name="name to sign in")),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("short_code", models.CharField(blank=True, max_length=128)),
                ("is_active", models.BooleanField(default=True)),
            ],
        ),
        migrations.CreateModel(
            name="Attempts",
            fields=[
                ("digest", models.CharField(max_length=64, primary_key=True, serialize=False)),
                ("failures", models.PositiveIntegerField(default=0)),
                ("last_at", models.DateTimeField()),
            ],
        ),
        migrations.CreateModel(
            name="Practice",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=120, verbose_name="name")),
                ("time_zone", models.CharField(default="UTC", max_length=60, verbose_name="time zone")),
                ("rules", models.CharField(default="acvim-2018", max_length=40, verbose_name="rule set")),
                ("invented", models.BooleanField(default=False, verbose_name="demo data")),
            ],
        ),
        migrations.CreateModel(
            name="Competence",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("subject", models.CharField(max_length=120, verbose_name="what")),
                ("observed_sessions", models.PositiveSmallIntegerField(default=0, verbose_name="sessions watched")),
                ("since", models.DateField()),
                ("until", models.DateField(blank=True, null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="competences",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "taught_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.AddField(
            model_name="person",
            name="practice",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="people", to="people.practice"
            ),
        ),
        migrations.CreateModel(
            name="KnownAddress",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("digest", models.CharField(max_length=64)),
                ("last_at", models.DateTimeField()),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("person", "digest"), name="an_address_is_known_once")],
            },
        ),
        migrations.CreateModel(
            name="Membership",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "role",
                    models.CharField(
                        choices=[
                            ("nurse", "nurse"),
                            ("veterinarian", "veterinarian"),
                            ("lead", "practice lead"),
                            ("researcher", "researcher"),
                        ],
                        max_length=20,
                    ),
                ),
                ("since", models.DateField()),
                ("until", models.DateField(blank=True, null=True)),
                (
                    "person",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="memberships",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("role__in", ["nurse", "veterinarian", "lead", "researcher"])),
                        name="known_role",
                    ),
                    models.UniqueConstraint(
                        condition=models.Q(("until__isnull", True)),
                        fields=("person", "role"),
                        name="a_role_is_held_once",
                    ),
                ],
            },
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.CheckConstraint(
                condition=models.Q(("username", django.db.models.functions.text.Lower("username"))),
                name="username_in_small_letters",
            ),
        ),
    ]
