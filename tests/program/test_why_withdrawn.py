"""Records taken back before the reason had one name keep it through the migration (constructed)."""

from datetime import UTC, date, datetime

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

BEFORE = [("program", "0010_write_plan"), ("replacements", "0010_string_limits_in_use")]
AFTER = [(app, "0011_one_name_for_why_withdrawn") for app in ("program", "replacements")]
AT = datetime(2028, 4, 10, 15, tzinfo=UTC)
DAY = date(2028, 4, 1)


def _migrated(targets):
    executor = MigrationExecutor(connection)
    executor.migrate(targets)
    return MigrationExecutor(connection).loader.project_state(targets).apps


@pytest.mark.django_db(transaction=True)
def test_reasons_stay_with_their_records_forward_and_back():
    try:
        apps = _migrated(BEFORE)
        for model, values in _records(apps).items():
            apps.get_model(model).objects.create(
                withdrawn_by="office", withdrawn_at=AT, withdrawn_why=f"{model} misread", **values
            )
        apps = _migrated(AFTER)
        for model in _MODELS:
            (kept,) = apps.get_model(model).objects.filter(withdrawn_at__isnull=False)
            assert kept.withdrawn_reason == f"{model} misread"
            assert (kept.withdrawn_by, kept.withdrawn_at) == ("office", AT)
        apps = _migrated(BEFORE)
        assert apps.get_model("replacements.OwnerChange").objects.get().withdrawn_why
    finally:
        _migrated(MigrationExecutor(connection).loader.graph.leaf_nodes())


_MODELS = (
    "replacements.OwnerChange",
    "program.CustomerWork",
    "program.CustomerWorkStep",
    "program.NoticeReturn",
)


def _records(apps) -> dict[str, dict]:
    premise = apps.get_model("services_inventory.Premise").objects.create(address="1 Elm Row")
    line = apps.get_model("services_inventory.ServiceLine").objects.create(
        premise=premise, location_id="A-1"
    )
    told = {"source": "letter", "recorded_by": "office", "recorded_at": AT}
    work = apps.get_model("program.CustomerWork").objects.create(line=line, told_on=DAY, **told)
    notice = apps.get_model("program.Notice").objects.create(
        line_id=line.pk, kind="LEAD", due_on=DAY, rule_id="any"
    )
    sent = {"sent_on": DAY, "returned_on": DAY, "recorded_by": "office", "recorded_at": AT}
    own = [
        {"premise": premise, "changed_on": DAY, **told},
        {"line": line, "told_on": DAY, **told},
        {"work": work, "kind": "CUSTOMER_DONE", "happened_on": DAY, **told},
        {"notice": notice, **sent},
    ]
    return dict(zip(_MODELS, own, strict=True))
