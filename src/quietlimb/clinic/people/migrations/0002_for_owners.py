"""What a practice tells owners: numbers by day and night, and how to prepare."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0001_first_tables")]

    operations = [
        migrations.AddField(
            "practice",
            "by_day",
            models.CharField(blank=True, default="", max_length=60, verbose_name="telephone by day"),
        ),
        migrations.AddField(
            "practice",
            "by_night",
            models.CharField(blank=True, default="", max_length=60, verbose_name="telephone by night"),
        ),
        migrations.AddField(
            "practice",
            "preparing",
            models.TextField(blank=True, default="", max_length=1200, verbose_name="how owners prepare for a visit"),
        ),
    ]
