import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("animals", "0003_imports_and_contacts")]

    operations = [
        migrations.AddField(
            model_name="animal",
            name="merged_into",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="doubles",
                to="animals.animal",
                verbose_name="a double of",
            ),
        ),
    ]
