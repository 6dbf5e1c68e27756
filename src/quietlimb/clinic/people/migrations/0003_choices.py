from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0002_settings_and_first_codes")]

    operations = [
        migrations.AddField(
            model_name="person",
            name="pressure_unit",
            field=models.CharField(
                choices=[("mmHg", "mmHg"), ("kPa", "kPa, with mmHg beside")],
                db_default="mmHg",
                default="mmHg",
                max_length=10,
                verbose_name="pressures in",
            ),
        ),
        migrations.AddField(
            model_name="person",
            name="left_handed",
            field=models.BooleanField(db_default=False, default=False, verbose_name="buttons for the left hand"),
        ),
        migrations.AddConstraint(
            model_name="person",
            constraint=models.CheckConstraint(
                condition=models.Q(("pressure_unit__in", ["mmHg", "kPa"])), name="known_pressure_unit"
            ),
        ),
    ]
