"""A site is brought up to date without stopping: the last release's code works on the new release's tables."""

from __future__ import annotations

import re

import pytest
from django.db import connection, migrations, models, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.models.fields import NOT_PROVIDED

from assignments import keeping, reminder_devices
from assignments.models import Reminder, ReminderDevice
from tests.released import LEAVES
from tests.unit import belonging

OURS = tuple(LEAVES)
REMOVES = (
    migrations.RemoveField,
    migrations.RenameField,
    migrations.DeleteModel,
    migrations.RenameModel,
    migrations.AlterModelTable,
)


def loader() -> MigrationLoader:
    found = MigrationLoader(None)
    assert {app: name for app, name in LEAVES.items() if (app, name) not in found.disk_migrations} == {}
    return found


def since_the_release() -> list[migrations.Migration]:
    found = loader()
    before = {key for leaf in LEAVES.items() for key in found.graph.forwards_plan(leaf)}
    return [found.disk_migrations[key] for key in sorted(found.disk_migrations) if key[0] in OURS and key not in before]


def harms(operation: object) -> str:
    """What the last release's code would stumble over, or nothing."""
    if isinstance(operation, REMOVES):
        return f"{type(operation).__name__}: in a release after the one that stopped using it"
    if isinstance(operation, migrations.AddField | migrations.AlterField):
        field = operation.field
        filled = field.null or field.many_to_many or field.db_default is not NOT_PROVIDED
        old_column = isinstance(operation, migrations.AlterField)
        if not filled and not old_column:
            return f"{operation.model_name}.{operation.name}: null=True or db_default, as old code leaves it out"
    return ""


def test_nothing_is_taken_away_and_every_new_column_fills_itself() -> None:
    found = {str(m): harms(one) for m in since_the_release() for one in m.operations if harms(one)}
    assert found == {}


@pytest.mark.parametrize(
    "operation",
    [
        migrations.RemoveField("take", "recorder"),
        migrations.RenameField("take", "recorder", "phone"),
        migrations.DeleteModel("Take"),
        migrations.AddField("take", "mood", models.CharField(max_length=9, default="")),
    ],
    ids=lambda operation: type(operation).__name__,
)
def test_what_would_stop_the_old_code_is_caught(operation: object) -> None:
    assert harms(operation)


@pytest.mark.django_db
@pytest.mark.both_databases
@pytest.mark.usefixtures("own_store")
def test_the_last_releases_models_read_and_write_on_todays_tables(studio, teacher) -> None:
    belonging.student(studio, teacher)
    old = loader().project_state(list(LEAVES.items())).apps
    every = [model for app in OURS for model in old.get_app_config(app).get_models()]
    kept = {model: list(model._base_manager.order_by("pk")) for model in every}
    assert sum(map(len, kept.values())) > 30
    with transaction.atomic():
        _empty(every)
        for model, rows in kept.items():
            model._base_manager.bulk_create(rows)
    again = {model: list(model._base_manager.order_by("pk").values_list()) for model in every}
    assert {m: len(rows) for m, rows in again.items()} == {m: len(rows) for m, rows in kept.items()}


@pytest.mark.django_db
@pytest.mark.both_databases
@pytest.mark.usefixtures("own_store")
def test_a_sign_in_that_the_last_releases_code_ends_takes_its_device_along(studio, teacher) -> None:
    belonging.student(studio, teacher)
    chosen = Reminder.objects.get()
    assert len(reminder_devices.living(chosen)) == 1
    old = loader().project_state(list(LEAVES.items())).apps
    old.get_model("studio", "Session")._base_manager.all().delete()
    connection.check_constraints()  # as at the end of a request
    assert reminder_devices.living(chosen) == []
    assert (keeping.tidy()["devices"], ReminderDevice.objects.count()) == (1, 0)


def _empty(every: list[type[models.Model]]) -> None:
    """Without the database's own look at what points where: the rows come back before the transaction ends."""
    with connection.cursor() as cursor:
        for model in every:
            for table in (*_links(model), model._meta.db_table):
                assert re.fullmatch(r"\w+", table)
                cursor.execute(f'DELETE FROM "{table}"')


def _links(model: type[models.Model]) -> list[str]:
    return [field.remote_field.through._meta.db_table for field in model._meta.local_many_to_many]
