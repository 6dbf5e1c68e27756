"""The first tables of this room."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("animals", "0001_first_tables"),
        ("equipment", "0001_first_tables"),
        ("people", "0001_first_tables"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Recording",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("sha256", models.CharField(max_length=64)),
                ("name", models.CharField(max_length=200)),
                ("content", models.BinaryField()),
                ("results", models.JSONField(default=dict)),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
            ],
        ),
        migrations.CreateModel(
            name="Series",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("ordinal", models.PositiveSmallIntegerField()),
                (
                    "technique",
                    models.CharField(
                        choices=[("oscillometric", "oscillometric"), ("doppler", "Doppler")],
                        max_length=20,
                        verbose_name="method",
                    ),
                ),
                (
                    "site",
                    models.CharField(
                        blank=True,
                        choices=[("forelimb", "forelimb"), ("hindlimb", "hindlimb"), ("tail", "tail")],
                        max_length=20,
                        verbose_name="site",
                    ),
                ),
                (
                    "side",
                    models.CharField(
                        blank=True, choices=[("left", "left"), ("right", "right")], max_length=10, verbose_name="side"
                    ),
                ),
                (
                    "position",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("chest-down", "chest down"),
                            ("side-lying", "lying on the side"),
                            ("sitting", "sitting"),
                            ("standing", "standing"),
                            ("on-lap", "on the lap"),
                        ],
                        max_length=20,
                        verbose_name="position",
                    ),
                ),
                (
                    "limb_circumference_cm",
                    models.FloatField(blank=True, null=True, verbose_name="limb circumference, cm"),
                ),
                (
                    "cuff_below_heart_cm",
                    models.FloatField(blank=True, null=True, verbose_name="cuff below the heart, cm"),
                ),
                ("planned_readings", models.PositiveSmallIntegerField(default=6, verbose_name="planned readings")),
                (
                    "cuff",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to="equipment.cuff",
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
            ],
            options={
                "ordering": ["ordinal"],
            },
        ),
        migrations.CreateModel(
            name="Reading",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("client_id", models.UUIDField(unique=True)),
                ("ordinal", models.PositiveIntegerField()),
                ("taken_at", models.DateTimeField()),
                ("saved_at", models.DateTimeField()),
                ("systolic", models.FloatField(blank=True, null=True)),
                ("mean", models.FloatField(blank=True, null=True)),
                ("diastolic", models.FloatField(blank=True, null=True)),
                ("pulse_rate", models.FloatField(blank=True, null=True)),
                (
                    "spoiled",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("moved", "moved"),
                            ("leaned on the leg", "leaned on the leg"),
                            ("cuff slipped", "cuff slipped"),
                            ("crying or growling", "crying or growling"),
                            ("interrupted", "interrupted"),
                            ("other", "other reason"),
                        ],
                        max_length=30,
                    ),
                ),
                ("struck_at", models.DateTimeField(blank=True, null=True)),
                ("struck_because", models.CharField(blank=True, max_length=200)),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
                (
                    "saved_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "struck_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "recording",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="readings",
                        to="measuring.recording",
                    ),
                ),
                (
                    "series",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="readings", to="measuring.series"
                    ),
                ),
            ],
            options={
                "ordering": ["taken_at", "ordinal", "id"],
            },
        ),
        migrations.CreateModel(
            name="Session",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("started_at", models.DateTimeField()),
                ("acclimatised_since", models.DateTimeField(blank=True, null=True)),
                (
                    "place",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("home", "at home"),
                            ("carrier", "in the carrier"),
                            ("waiting-room", "waiting room"),
                            ("consulting-room", "consulting room"),
                            ("hospital-cage", "hospital cage"),
                        ],
                        max_length=20,
                        verbose_name="place",
                    ),
                ),
                (
                    "sedation",
                    models.CharField(
                        blank=True,
                        choices=[("awake", "awake"), ("sedated", "sedated"), ("anaesthetised", "anaesthetised")],
                        max_length=20,
                        verbose_name="awake",
                    ),
                ),
                ("demeanour", models.CharField(blank=True, max_length=120, verbose_name="demeanour")),
                ("demeanour_at_end", models.CharField(blank=True, max_length=120, verbose_name="demeanour at the end")),
                ("owner_present", models.BooleanField(blank=True, null=True, verbose_name="owner there")),
                (
                    "before_examination",
                    models.BooleanField(blank=True, null=True, verbose_name="before the examination"),
                ),
                (
                    "calming_medicine",
                    models.CharField(blank=True, max_length=200, verbose_name="calming medicine before the visit"),
                ),
                ("drugs_24_h", models.CharField(blank=True, max_length=400, verbose_name="drugs in the last 24 hours")),
                (
                    "tablet",
                    models.CharField(
                        blank=True,
                        choices=[("given", "given"), ("not given", "not given"), ("unknown", "not known")],
                        max_length=20,
                        verbose_name="today's tablet",
                    ),
                ),
                ("held_by", models.CharField(blank=True, max_length=120, verbose_name="held by")),
                ("signs", models.CharField(blank=True, max_length=400, verbose_name="signs seen")),
                ("remarks", models.CharField(blank=True, max_length=400, verbose_name="remarks")),
                ("cuff_cleaned", models.BooleanField(default=False, verbose_name="cuff cleaned")),
                (
                    "ending",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("closed", "closed"),
                            ("had enough", "she has had enough"),
                            ("none obtained", "no reading obtained"),
                            ("no valid value", "no valid value today"),
                        ],
                        max_length=20,
                    ),
                ),
                ("ended_at", models.DateTimeField(blank=True, null=True)),
                (
                    "animal",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="sessions", to="animals.animal"
                    ),
                ),
                (
                    "ended_by",
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
                (
                    "read_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "started_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["-started_at", "id"],
            },
        ),
        migrations.AddField(
            model_name="series",
            name="session",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="series", to="measuring.session"
            ),
        ),
        migrations.CreateModel(
            name="SignedValue",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("signed_at", models.DateTimeField()),
                ("charted", models.FloatField(null=True)),
                ("chosen", models.FloatField(null=True)),
                ("reason", models.CharField(blank=True, max_length=400)),
                ("rules", models.CharField(max_length=40)),
                ("engine", models.CharField(max_length=40)),
                ("fingerprint", models.CharField(blank=True, max_length=64)),
                ("frozen", models.TextField()),
                ("seal", models.CharField(max_length=64)),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
                (
                    "series",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signed_values",
                        to="measuring.series",
                    ),
                ),
                (
                    "session",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="signed_values",
                        to="measuring.session",
                    ),
                ),
                (
                    "signed_by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
            ],
            options={
                "ordering": ["signed_at", "id"],
            },
        ),
        migrations.CreateModel(
            name="Amendment",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("at", models.DateTimeField()),
                ("chosen", models.FloatField(null=True)),
                ("text", models.TextField(blank=True)),
                ("why", models.CharField(max_length=400)),
                ("seal", models.CharField(max_length=64)),
                (
                    "by",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
                (
                    "signed_value",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="amendments",
                        to="measuring.signedvalue",
                    ),
                ),
            ],
            options={
                "ordering": ["at", "id"],
            },
        ),
        migrations.AddConstraint(
            model_name="recording",
            constraint=models.UniqueConstraint(fields=("practice", "sha256"), name="the_same_bytes_are_kept_once"),
        ),
        migrations.AddIndex(
            model_name="reading",
            index=models.Index(fields=["series", "taken_at"], name="readings_in_order"),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "spoiled__in",
                        [
                            "moved",
                            "leaned on the leg",
                            "cuff slipped",
                            "crying or growling",
                            "interrupted",
                            "other",
                            "",
                        ],
                    )
                ),
                name="known_reason",
            ),
        ),
        migrations.AddConstraint(
            model_name="reading",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("systolic__isnull", False),
                    ("recording__isnull", False),
                    models.Q(("spoiled", ""), _negated=True),
                    _connector="OR",
                ),
                name="a_reading_says_something",
            ),
        ),
        migrations.AddIndex(
            model_name="session",
            index=models.Index(fields=["practice", "ending", "started_at"], name="session_by_state"),
        ),
        migrations.AddConstraint(
            model_name="session",
            constraint=models.CheckConstraint(
                condition=models.Q(("ending__in", ["closed", "had enough", "none obtained", "no valid value", ""])),
                name="known_ending",
            ),
        ),
        migrations.AddConstraint(
            model_name="session",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("ended_at", None), ("ending", "")),
                    models.Q(models.Q(("ending", ""), _negated=True), ("ended_at__isnull", False)),
                    _connector="OR",
                ),
                name="an_end_has_its_time",
            ),
        ),
        migrations.AddConstraint(
            model_name="series",
            constraint=models.CheckConstraint(
                condition=models.Q(("technique__in", ["oscillometric", "doppler"])), name="series_of_known_technique"
            ),
        ),
        migrations.AddConstraint(
            model_name="series",
            constraint=models.UniqueConstraint(fields=("session", "ordinal"), name="series_in_order"),
        ),
        migrations.AddConstraint(
            model_name="signedvalue",
            constraint=models.UniqueConstraint(fields=("session",), name="a_session_is_signed_once"),
        ),
    ]
