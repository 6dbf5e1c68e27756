"""Where only the age of an animal was told, its day of birth is known about."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("animals", "0004_doubles")]

    operations = [
        migrations.AddField(
            model_name="animal",
            name="born_about",
            field=models.BooleanField(db_default=False, default=False, verbose_name="born about then"),
        )
    ]
