import django.db.models.deletion
import django.utils.timezone
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("assignments", "0016_address_of_a_reminder"),
        ("studio", "0008_recorded_in_the_lesson"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Agenda",
            fields=[
                ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ("on", models.DateField()),
                ("points", models.JSONField(default=list)),
                ("changed_at", models.DateTimeField(default=django.utils.timezone.now)),
                (
                    "by",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "horn",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="agendas", to="studio.horn"
                    ),
                ),
            ],
            options={
                "ordering": ["-on"],
                "constraints": [models.UniqueConstraint(fields=("horn", "on"), name="one_agenda_a_lesson")],
            },
        ),
    ]
