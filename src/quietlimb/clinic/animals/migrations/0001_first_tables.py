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
            name="Animal",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=80, verbose_name="animal")),
                (
                    "species",
                    models.CharField(choices=[("cat", "cat"), ("dog", "dog")], max_length=10, verbose_name="species"),
                ),
                ("breed", models.CharField(blank=True, max_length=80, verbose_name="breed")),
                ("colour", models.CharField(blank=True, max_length=80, verbose_name="colour")),
                ("born", models.DateField(blank=True, null=True, verbose_name="born")),
                (
                    "sex",
                    models.CharField(
                        blank=True,
                        choices=[
                            ("female", "female"),
                            ("female neutered", "female, neutered"),
                            ("male", "male"),
                            ("male neutered", "male, neutered"),
                        ],
                        max_length=20,
                        verbose_name="sex",
                    ),
                ),
                ("remarks", models.CharField(blank=True, max_length=400, verbose_name="remarks")),
                ("link_id", models.CharField(blank=True, max_length=80, verbose_name="number in your records")),
                ("deceased_on", models.DateField(blank=True, null=True, verbose_name="deceased on")),
                (
                    "practice",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="+", to="people.practice"
                    ),
                ),
            ],
            options={
                "ordering": ["name", "id"],
            },
        ),
        migrations.CreateModel(
            name="Condition",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                (
                    "kind",
                    models.CharField(choices=[("illness", "illness"), ("drug class", "class of drug")], max_length=20),
                ),
                ("code", models.CharField(max_length=60)),
                ("since", models.DateField(blank=True, null=True)),
                ("until", models.DateField(blank=True, null=True)),
                (
                    "animal",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="conditions", to="animals.animal"
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
        migrations.CreateModel(
            name="Event",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("on", models.DateField(verbose_name="on")),
                (
                    "kind",
                    models.CharField(
                        choices=[
                            ("started", "started"),
                            ("stepped up", "stepped up"),
                            ("stepped down", "stepped down"),
                            ("stopped", "stopped"),
                            ("missed", "missed"),
                        ],
                        max_length=20,
                        verbose_name="what",
                    ),
                ),
                ("prescription", models.CharField(blank=True, max_length=400, verbose_name="prescription as written")),
                (
                    "animal",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="events", to="animals.animal"
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
                "ordering": ["on", "id"],
            },
        ),
        migrations.CreateModel(
            name="Owner",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(max_length=120, verbose_name="owner")),
                ("telephone", models.CharField(blank=True, max_length=60, verbose_name="telephone")),
                ("email", models.EmailField(blank=True, max_length=254, verbose_name="e-mail")),
                ("address", models.TextField(blank=True, verbose_name="address")),
                ("link_id", models.CharField(blank=True, max_length=80, verbose_name="number in your records")),
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
            model_name="animal",
            name="owner",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="animals",
                to="animals.owner",
            ),
        ),
        migrations.CreateModel(
            name="Recheck",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("since", models.DateField()),
                ("due_from", models.DateField(verbose_name="due from")),
                ("due_by", models.DateField(verbose_name="due by")),
                ("why", models.CharField(max_length=400, verbose_name="why")),
                ("last_charted", models.FloatField(blank=True, null=True)),
                (
                    "contact",
                    models.CharField(
                        blank=True,
                        choices=[("contacted", "contacted"), ("booked", "booked"), ("declined", "declined")],
                        max_length=20,
                    ),
                ),
                ("contact_on", models.DateField(blank=True, null=True)),
                (
                    "animal",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT, related_name="recheck", to="animals.animal"
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
                "ordering": ["due_by", "id"],
            },
        ),
        migrations.CreateModel(
            name="OrganFinding",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("on", models.DateField()),
                (
                    "organ",
                    models.CharField(
                        choices=[
                            ("eyes", "eyes"),
                            ("brain", "brain"),
                            ("heart", "heart and vessels"),
                            ("kidneys", "kidneys"),
                        ],
                        max_length=10,
                    ),
                ),
                ("side", models.CharField(blank=True, choices=[("left", "left"), ("right", "right")], max_length=10)),
                (
                    "state",
                    models.CharField(
                        choices=[
                            ("present", "present"),
                            ("absent", "absent"),
                            ("known disease", "known disease, not progressing"),
                            ("unclear", "unclear"),
                            ("not examined", "not examined"),
                        ],
                        max_length=20,
                    ),
                ),
                ("method", models.CharField(blank=True, max_length=120, verbose_name="how")),
                ("numbers", models.CharField(blank=True, max_length=200, verbose_name="values")),
                (
                    "animal",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="organ_findings", to="animals.animal"
                    ),
                ),
                (
                    "by",
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
                "ordering": ["on", "id"],
                "constraints": [
                    models.CheckConstraint(
                        condition=models.Q(("organ", "eyes"), ("side", ""), _connector="OR"),
                        name="only_eyes_have_sides",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("organ", "kidneys"), models.Q(("state", "known disease"), _negated=True), _connector="OR"
                        ),
                        name="known_disease_of_kidneys",
                    ),
                ],
            },
        ),
        migrations.AddIndex(
            model_name="animal",
            index=models.Index(fields=["practice", "name"], name="animal_by_name"),
        ),
        migrations.AddConstraint(
            model_name="animal",
            constraint=models.CheckConstraint(
                condition=models.Q(("species__in", ["cat", "dog"])), name="known_species"
            ),
        ),
        migrations.AddConstraint(
            model_name="animal",
            constraint=models.CheckConstraint(
                condition=models.Q(("sex__in", ["female", "female neutered", "male", "male neutered", ""])),
                name="known_sex",
            ),
        ),
        migrations.AddConstraint(
            model_name="animal",
            constraint=models.UniqueConstraint(
                condition=models.Q(("link_id", ""), _negated=True),
                fields=("practice", "link_id"),
                name="a_link_id_is_one_animal",
            ),
        ),
        migrations.AddIndex(
            model_name="recheck",
            index=models.Index(fields=["practice", "due_from"], name="rechecks_by_day"),
        ),
        migrations.AddConstraint(
            model_name="recheck",
            constraint=models.CheckConstraint(
                condition=models.Q(("due_from__lte", models.F("due_by"))), name="due_window_in_order"
            ),
        ),
    ]
