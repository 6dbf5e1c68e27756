"""A practice can wait for its first lead, who comes with a code."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("people", "0003_choices")]

    operations = [
        migrations.AddField(
            model_name="practice",
            name="first_code",
            field=models.CharField(blank=True, db_default="", default="", max_length=128),
        ),
        migrations.AddField(
            model_name="practice", name="first_code_until", field=models.DateTimeField(blank=True, null=True)
        ),
    ]
