"""The register with manometers; checks, decisions on sessions, and how often the practice checks."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("equipment", "0001_first_tables"),
        ("measuring", "0008_late_readings"),
        ("people", "0004_another_practice"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Check",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("static", "static accuracy"),
                            ("leak", "leak"),
                            ("display", "display against manometer"),
                            ("exhaust", "rapid exhaust"),
                            ("bleed", "bleed rate"),
                            ("look", "look over"),
                            ("certificate", "service certificate"),
                        ],
                        max_length=20,
                    ),
                ),
                ("done_at", models.DateTimeField()),
                ("entered_at", models.DateTimeField()),
                ("good", models.BooleanField()),
                ("figure", models.FloatField(null=True)),
                ("unit", models.CharField(blank=True, max_length=20)),
                ("limit", models.CharField(blank=True, max_length=40)),
                ("typed", models.TextField(blank=True)),
                ("result", models.TextField(blank=True)),
                ("engine", models.CharField(blank=True, max_length=40)),
                ("issuer", models.CharField(blank=True, max_length=120)),
                ("number", models.CharField(blank=True, max_length=80)),
                ("valid_until", models.DateField(null=True)),
                ("room_c", models.FloatField(null=True)),
                ("remarks", models.CharField(blank=True, max_length=400)),
                ("why", models.CharField(blank=True, max_length=400)),
                ("seal", models.CharField(max_length=64)),
            ],
            options={
                "ordering": ["done_at", "entered_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="CheckSchedule",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("aneroid_months", models.PositiveSmallIntegerField(verbose_name="manometers, months between checks")),
                (
                    "electronic_months",
                    models.PositiveSmallIntegerField(verbose_name="electronic instruments, months between checks"),
                ),
                ("cuff_months", models.PositiveSmallIntegerField(verbose_name="cuffs, months between checks")),
                (
                    "reference_months",
                    models.PositiveSmallIntegerField(verbose_name="reference manometers, months between certificates"),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Decision",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "what",
                    models.CharField(
                        choices=[("stands", "stands"), ("repeat", "repeat"), ("owner called", "owner called")],
                        max_length=20,
                    ),
                ),
                ("at", models.DateTimeField()),
                ("why", models.CharField(max_length=400)),
                ("seal", models.CharField(max_length=64)),
            ],
            options={
                "ordering": ["at", "id"],
            },
        ),
        migrations.RemoveConstraint(
            model_name="instrument",
            name="known_technique",
        ),
        migrations.AddField(
            model_name="cuff",
            name="asset_tag",
            field=models.CharField(blank=True, db_default="", default="", max_length=60, verbose_name="asset tag"),
        ),
        migrations.AddField(
            model_name="cuff",
            name="loan",
            field=models.CharField(blank=True, db_default="", default="", max_length=200, verbose_name="on loan"),
        ),
        migrations.AddField(
            model_name="instrument",
            name="asset_tag",
            field=models.CharField(blank=True, db_default="", default="", max_length=60, verbose_name="asset tag"),
        ),
        migrations.AddField(
            model_name="instrument",
            name="gauge",
            field=models.CharField(
                blank=True,
                choices=[("manometer", "manometer"), ("reference", "reference manometer")],
                db_default="",
                default="",
                max_length=20,
                verbose_name="gauge",
            ),
        ),
        migrations.AddField(
            model_name="instrument",
            name="held_static",
            field=models.BooleanField(db_default=True, default=True, verbose_name="can be held at a pressure here"),
        ),
        migrations.AddField(
            model_name="instrument",
            name="loan",
            field=models.CharField(blank=True, db_default="", default="", max_length=200, verbose_name="on loan"),
        ),
        migrations.AddField(
            model_name="instrument",
            name="read_on",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="read_with",
                to="equipment.instrument",
                verbose_name="read on the manometer",
            ),
        ),
        migrations.AlterField(
            model_name="instrument",
            name="technique",
            field=models.CharField(
                blank=True,
                choices=[("oscillometric", "oscillometric"), ("doppler", "Doppler")],
                max_length=20,
                verbose_name="kind",
            ),
        ),
        migrations.AddConstraint(
            model_name="instrument",
            constraint=models.CheckConstraint(
                condition=models.Q(("technique__in", ["oscillometric", "doppler", ""])), name="known_technique"
            ),
        ),
        migrations.AddConstraint(
            model_name="instrument",
            constraint=models.CheckConstraint(
                condition=models.Q(("gauge__in", ["manometer", "reference", ""])), name="known_gauge"
            ),
        ),
        migrations.AddConstraint(
            model_name="instrument",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(models.Q(("technique", ""), _negated=True), ("gauge", "")),
                    models.Q(("technique", ""), models.Q(("gauge", ""), _negated=True)),
                    _connector="OR",
                ),
                name="it_measures_or_is_a_gauge",
            ),
        ),
        migrations.AddField(
            model_name="check",
            name="by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="check",
            name="corrects",
            field=models.OneToOneField(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="corrected_by",
                to="equipment.check",
            ),
        ),
        migrations.AddField(
            model_name="check",
            name="cuff",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="checks",
                to="equipment.cuff",
            ),
        ),
        migrations.AddField(
            model_name="check",
            name="instrument",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="checks",
                to="equipment.instrument",
            ),
        ),
        migrations.AddField(
            model_name="check",
            name="practice",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
            ),
        ),
        migrations.AddField(
            model_name="check",
            name="recording",
            field=models.ForeignKey(
                null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="measuring.recording"
            ),
        ),
        migrations.AddField(
            model_name="check",
            name="reference",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to="equipment.instrument",
            ),
        ),
        migrations.AddField(
            model_name="checkschedule",
            name="practice",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
            ),
        ),
        migrations.AddField(
            model_name="decision",
            name="by",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
            ),
        ),
        migrations.AddField(
            model_name="decision",
            name="failed",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="decisions", to="equipment.check"
            ),
        ),
        migrations.AddField(
            model_name="decision",
            name="practice",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
            ),
        ),
        migrations.AddField(
            model_name="decision",
            name="session",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="decisions", to="measuring.session"
            ),
        ),
        migrations.AddConstraint(
            model_name="check",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("kind__in", ["static", "leak", "display", "exhaust", "bleed", "look", "certificate"])
                ),
                name="known_kind_of_check",
            ),
        ),
        migrations.AddConstraint(
            model_name="check",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("cuff", None), ("instrument__isnull", False)),
                    models.Q(("cuff__isnull", False), ("instrument", None)),
                    _connector="OR",
                ),
                name="a_check_is_of_one_thing",
            ),
        ),
        migrations.AddConstraint(
            model_name="checkschedule",
            constraint=models.UniqueConstraint(fields=("practice",), name="a_practice_has_one_schedule"),
        ),
        migrations.AddConstraint(
            model_name="checkschedule",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("aneroid_months__range", (1, 120)),
                    ("electronic_months__range", (1, 120)),
                    ("cuff_months__range", (1, 120)),
                    ("reference_months__range", (1, 120)),
                ),
                name="possible_months_between_checks",
            ),
        ),
        migrations.AddConstraint(
            model_name="decision",
            constraint=models.CheckConstraint(
                condition=models.Q(("what__in", ["stands", "repeat", "owner called"])), name="known_decision"
            ),
        ),
    ]
