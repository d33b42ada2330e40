from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("sequence", "0004_drafts_of_sequences"),
    ]

    operations = [
        migrations.AddField(
            model_name="detail",
            name="miss",
            field=models.JSONField(
                blank=True,
                default=dict,
                help_text="Empty: none is reckoned.",
                verbose_name="what it costs to leave it",
            ),
        ),
    ]
