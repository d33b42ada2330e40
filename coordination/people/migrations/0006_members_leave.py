import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0005_sampling_terms"),
    ]

    operations = [
        migrations.AddField(
            model_name="crewmember",
            name="left_on",
            field=models.DateField(
                blank=True,
                help_text="Empty: still in it. A membership is ended, never deleted.",
                null=True,
                verbose_name="left the crew on",
            ),
        ),
        migrations.AlterField(
            model_name="crewmember",
            name="crew",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT, related_name="members", to="people.crew"
            ),
        ),
        migrations.AlterField(
            model_name="crewmember",
            name="person",
            field=models.ForeignKey(
                on_delete=django.db.models.deletion.PROTECT,
                related_name="memberships",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
    ]
