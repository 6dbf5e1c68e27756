"""How an eye was looked at: pupil, view; and when a finding was entered, so that two of one day have an order."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("animals", "0001_first_tables")]

    operations = [
        migrations.AddField("organfinding", "dilated", models.BooleanField("pupil dilated", blank=True, null=True)),
        migrations.AddField(
            "organfinding",
            "view",
            models.CharField(
                "view",
                blank=True,
                choices=[("whole", "whole fundus"), ("part", "part of the fundus"), ("none", "no view")],
                default="",
                max_length=10,
            ),
            preserve_default=False,
        ),
        migrations.AddField("organfinding", "entered_at", models.DateTimeField(blank=True, null=True)),
        migrations.AddConstraint(
            "organfinding",
            models.CheckConstraint(condition=models.Q(("view__in", ["", "whole", "part", "none"])), name="known_view"),
        ),
    ]
