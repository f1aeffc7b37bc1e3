from django.db import migrations, models


def confirm(apps, schema_editor):
    """To an address that was written to before addresses were asked for, the notes go on."""
    written_to = apps.get_model("assignments", "Reminder").objects.filter(confirmed_at=None).exclude(last_sent_at=None)
    written_to.update(confirmed_at=models.F("last_sent_at"))


class Migration(migrations.Migration):

    dependencies = [
        ('assignments', '0019_folds_of_a_day'),
    ]

    operations = [migrations.RunPython(confirm, migrations.RunPython.noop, elidable=True)]
