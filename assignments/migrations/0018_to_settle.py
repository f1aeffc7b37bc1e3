from django.conf import settings
from django.db import migrations, models


class AddIndexBesideWrites(migrations.AddIndex):
    """On PostgreSQL the table goes on being written to: a site that is brought up to date receives takes meanwhile.

    An index that an interrupted run left half built goes first, so that it can be run again.
    """

    atomic = False

    def database_forwards(self, app_label, schema_editor, from_state, to_state):
        if schema_editor.connection.vendor != "postgresql":  # SQLite: one writer at a time in any case
            super().database_forwards(app_label, schema_editor, from_state, to_state)
            return
        model = to_state.apps.get_model(app_label, self.model_name)
        if self.allow_migrate_model(schema_editor.connection.alias, model):
            schema_editor.remove_index(model, self.index, concurrently=True)
            schema_editor.add_index(model, self.index, concurrently=True)


class Migration(migrations.Migration):

    atomic = False
    dependencies = [
        ('analysis', '0003_spoken_words'),
        ('assignments', '0017_agenda'),
        ('studio', '0008_recorded_in_the_lesson'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        AddIndexBesideWrites(
            model_name='demonstration',
            index=models.Index(models.F('made_at'), condition=models.Q(('settled_at', None)), name='demonstrations_to_settle'),
        ),
        AddIndexBesideWrites(
            model_name='take',
            index=models.Index(models.F('received_at'), condition=models.Q(('settled_at', None)), name='takes_to_settle'),
        ),
    ]
