from django.db import migrations

# The log is written to and read, never changed. Rows of an erased student can still be deleted.
SQLITE = """
CREATE TRIGGER studio_logrow_never_changes BEFORE UPDATE ON studio_logrow
BEGIN SELECT RAISE(ABORT, 'log rows are never changed'); END
"""
POSTGRESQL = """
CREATE FUNCTION studio_logrow_never_changes() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'log rows are never changed'; END $$;
CREATE TRIGGER studio_logrow_never_changes BEFORE UPDATE ON studio_logrow
FOR EACH ROW EXECUTE FUNCTION studio_logrow_never_changes();
"""


def refuse_changes(apps, schema_editor):
    schema_editor.execute({"sqlite": SQLITE, "postgresql": POSTGRESQL}[schema_editor.connection.vendor], params=None)


def allow_changes(apps, schema_editor):
    on = " ON studio_logrow" if schema_editor.connection.vendor == "postgresql" else ""
    schema_editor.execute(f"DROP TRIGGER studio_logrow_never_changes{on}")
    if on:
        schema_editor.execute("DROP FUNCTION studio_logrow_never_changes()")


class Migration(migrations.Migration):
    dependencies = [
        ("studio", "0002_codetry_membership_of_age_membership_teachers_device_and_more"),
    ]

    operations = [migrations.RunPython(refuse_changes, allow_changes)]
