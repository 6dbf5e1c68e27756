from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("animals", "0006_found_without_accents"),
    ]

    operations = [
        migrations.AddField(
            model_name="recheck",
            name="source",
            field=models.CharField(blank=True, db_default="", default="", max_length=200),
        ),
        migrations.AddField(
            model_name="recheck",
            name="unsigned",
            field=models.BooleanField(db_default=False, default=False),
        ),
    ]
