"""The invented inventory file by django-import-export, into one plain table.

The library's fast way: one model of 25 columns as text and numbers, written in bulk, known rows
looked up at once by their identifier, without comparing old and new. It judges no cell beyond its
type, and keeps no evidence, history or categories.
"""

from pathlib import Path

from django.db import connection, models

from tests.bench.intake_file import HEADER
from tests.bench.processes import Spent

NAMES = [heading.replace(" ", "_") for heading in HEADER]
NUMBERS = {
    "latitude": models.FloatField,
    "longitude": models.FloatField,
    "system_side_installed": models.IntegerField,
    "customer_side_installed": models.IntegerField,
    "year_built": models.IntegerField,
}
OPTIONS = {
    "use_bulk": True,
    "skip_diff": True,
    "batch_size": 5_000,
    "import_id_fields": ("location_id",),
}


def _model() -> type[models.Model]:
    fields = {
        name: NUMBERS[name](null=True)
        if name in NUMBERS
        else models.CharField(max_length=200, blank=True, db_index=name == "location_id")
        for name in NAMES
    }
    meta = type("Meta", (), {"app_label": "services_inventory", "db_table": "bench_plain_line"})
    return type("PlainLine", (models.Model,), {**fields, "__module__": __name__, "Meta": meta})


def load(source: Path) -> dict:
    """Load the file into a fresh table; return what that took."""
    from import_export.instance_loaders import CachedInstanceLoader
    from import_export.resources import modelresource_factory
    from tablib import Dataset

    model = _model()
    with connection.schema_editor() as editor:
        editor.create_model(model)
    resource = modelresource_factory(
        model, meta_options={**OPTIONS, "instance_loader_class": CachedInstanceLoader}
    )()
    began = Spent.now()
    data = Dataset().load(source.read_text(encoding="utf-8"), format="csv")
    data.headers = NAMES
    result = resource.import_data(data, dry_run=False, raise_errors=True, use_transactions=True)
    spent = began.until_now()
    if result.totals["new"] != model.objects.count():
        raise SystemExit(f"import-export stored {model.objects.count()} rows.")
    return spent
