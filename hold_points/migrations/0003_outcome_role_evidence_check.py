import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("hold_points", "0002_initial")]

    operations = [
        migrations.AddField(
            model_name="outcome",
            name="role",
            field=models.CharField(
                default="supervisor",
                help_text="The role in which it was judged: a planner confirms only.",
                max_length=12,
                verbose_name="judged as",
            ),
            preserve_default=False,
        ),
        migrations.AddField(
            model_name="evidence",
            name="check_shown",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="evidence_shown",
                to="hold_points.check",
            ),
        ),
    ]
