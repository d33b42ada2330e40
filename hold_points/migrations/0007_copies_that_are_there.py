from django.db import migrations
from django.db.models import F


def mark_prepared(apps, schema_editor):
    """Photographs from before copies were made in a task have theirs already."""
    evidence = apps.get_model("hold_points", "Evidence")
    evidence.objects.exclude(shown="").update(prepared_at=F("received_at"), prepare_after=F("received_at"))


class Migration(migrations.Migration):

    dependencies = [
        ("hold_points", "0006_copies_and_positions"),
    ]

    operations = [
        migrations.RunPython(mark_prepared, migrations.RunPython.noop),
    ]
