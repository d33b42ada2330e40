import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("hold_points", "0009_found_on_site"),
    ]

    operations = [
        migrations.AlterField(
            model_name="evidence",
            name="inspection",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="evidence",
                to="hold_points.inspection",
            ),
        ),
    ]
