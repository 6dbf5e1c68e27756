from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("teaching", "0001_first_tables"),
    ]

    operations = [
        migrations.AddField(
            model_name="trainingresult",
            name="owner_told",
            field=models.CharField(blank=True, db_default="", default="", max_length=30),
        ),
        migrations.AddField(
            model_name="trainingrun",
            name="to_owner",
            field=models.CharField(blank=True, db_default="", default="", max_length=30),
        ),
    ]
