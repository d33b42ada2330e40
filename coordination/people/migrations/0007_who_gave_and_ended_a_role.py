import datetime as dt

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def end_by_days(apps, schema_editor):
    """On the way back: a role that was ended is over by its last day, since nothing else will say so.

    Only days are written: rows that were deleted here would leave PostgreSQL with work to do before the
    columns can go.
    """
    Role = apps.get_model("people", "Role")
    for role in Role.objects.filter(ended_at__isnull=False).order_by("pk"):
        day_before = role.ended_at.date() - dt.timedelta(days=1)
        role.last_day = min(role.last_day or day_before, day_before)
        same = Role.objects.filter(person=role.person_id, builder=role.builder_id, kind=role.kind)
        if role.first_day and (
            role.first_day > role.last_day
            or same.filter(first_day=role.first_day).exclude(pk=role.pk).exists()
        ):
            role.first_day = None
        role.save(update_fields=["first_day", "last_day"])


class Migration(migrations.Migration):
    dependencies = [
        ("people", "0006_members_leave"),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="role", name="role_once"),
        migrations.AddField(
            model_name="crew",
            name="retired_on",
            field=models.DateField(
                blank=True,
                help_text="Empty: at work. A retired crew is offered for no visit; what it did stays.",
                null=True,
                verbose_name="retired on",
            ),
        ),
        migrations.AddField(
            model_name="role",
            name="ended_at",
            field=models.DateTimeField(blank=True, editable=False, null=True, verbose_name="ended"),
        ),
        migrations.AddField(
            model_name="role",
            name="ended_by",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.AddField(
            model_name="role",
            name="granted_at",
            field=models.DateTimeField(blank=True, editable=False, null=True, verbose_name="given"),
        ),
        migrations.AddField(
            model_name="role",
            name="granted_by",
            field=models.ForeignKey(
                blank=True,
                editable=False,
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="+",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
        migrations.RunPython(migrations.RunPython.noop, end_by_days),
        migrations.AddConstraint(
            model_name="role",
            constraint=models.UniqueConstraint(
                condition=models.Q(("ended_at__isnull", True)),
                fields=("person", "builder", "kind", "first_day"),
                name="role_once",
            ),
        ),
    ]
