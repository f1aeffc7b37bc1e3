from django.db import migrations

# Who listened to what is written down and read, never changed; it goes with the take alone.
SQLITE = """
CREATE TRIGGER assignments_hearing_never_changes BEFORE UPDATE ON assignments_hearing
BEGIN SELECT RAISE(ABORT, 'hearings are never changed'); END
"""
POSTGRESQL = """
CREATE FUNCTION assignments_hearing_never_changes() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'hearings are never changed'; END $$;
CREATE TRIGGER assignments_hearing_never_changes BEFORE UPDATE ON assignments_hearing
FOR EACH ROW EXECUTE FUNCTION assignments_hearing_never_changes();
"""


def refuse_changes(apps, schema_editor):
    schema_editor.execute({"sqlite": SQLITE, "postgresql": POSTGRESQL}[schema_editor.connection.vendor], params=None)


def allow_changes(apps, schema_editor):
    on = " ON assignments_hearing" if schema_editor.connection.vendor == "postgresql" else ""
    schema_editor.execute(f"DROP TRIGGER assignments_hearing_never_changes{on}")
    if on:
        schema_editor.execute("DROP FUNCTION assignments_hearing_never_changes()")


class Migration(migrations.Migration):
    dependencies = [
        ("assignments", "0021_notes_on_devices"),
    ]

    operations = [migrations.RunPython(refuse_changes, allow_changes)]
