"""The whole record in open formats, for the day another program takes over; and back from them."""

import csv
import hashlib
import json
import shutil
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from itertools import islice
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.contrib.auth import get_user_model
from django.contrib.auth.models import Group
from django.db import transaction
from django.db.models import BinaryField, Field, ForeignKey, JSONField, Model

from services_inventory import bulk
from services_inventory.domain.days import day_told
from services_inventory.kept_files import FETCHED, all_fetched, all_handed_over
from services_inventory.refused import Refused

from ..domain.seals import text_of
from ..models import RowDigestsTaken, Seal
from ..queries.personal import personal_columns, secret_columns
from ..queries.row_digests import unwatched
from ..queries.seals import Stream, fields_of, streams
from ..submissions.digest import sha256_of
from .sealing import proof_write, record_seal

README = Path(__file__).parents[1] / "reference" / "archive_readme.txt"
SUMS = "SHA256SUMS"
_ACCOUNT = ("id", "username", "first_name", "last_name", "email", "is_active", "date_joined")
_NOT_COPIED = (
    "program.sqlite3", "static", "progress", "uploading", "secret_key", "before-restore", "help",
    FETCHED, "metrics", "drops", "asked",
)  # fmt: skip
_SIZE = 2_000


def archive_write(folder: Path, *, day: date, at: datetime) -> str:
    """Write every table, the lines of a day as GeoPackage, files and proof; return the head.

    The whole is one view of the record: what is recorded meanwhile is in it whole or not at all.
    """
    if folder.exists() and any(folder.iterdir()):
        raise Refused(f"{folder} is not empty. Choose a new folder for the archive.")
    (folder / "tables").mkdir(parents=True, exist_ok=True)
    record_seal(at=at)
    with transaction.atomic():
        bulk.one_view()
        counts = {name: _table_write(folder, stream) for name, stream in archived().items()}
        head = proof_write(folder / "proof")
        _write(folder / "tables" / "accounts.csv", [*_ACCOUNT, "roles"], _accounts())
        _dictionary_write(folder)
        _lines_write(folder / "lines.gpkg", day)
    _files_copy(Path(settings.DATA_DIR), folder / "files")
    rows = "\n".join(f"  {name:<45}{number:>12,}" for name, number in counts.items())
    text = README.read_text(encoding="utf-8")
    said = text.replace("{day}", day_told(day)).replace("{head}", head).replace("{rows}", rows)
    (folder / "README.txt").write_text(said, encoding="utf-8")
    _sums_write(folder)
    return head


def archived() -> dict[str, Stream]:
    """Return what is archived of each table, by its label: all columns but secrets."""
    kept = {Seal._meta.label, RowDigestsTaken._meta.label}
    found = {}
    for app in ("services_inventory", "replacements", "program"):
        for table in apps.get_app_config(app).get_models(include_auto_created=True):
            label, aside = table._meta.label, secret_columns().get(table._meta.label, ())
            if aside or (label in unwatched() and label not in kept):
                continue
            key = table._meta.pk.attname
            names = (key, *(name for name in fields_of(table) if name != key))
            found[label] = Stream(label, table, "", names)
    return found


def _table_write(folder: Path, stream: Stream) -> int:
    rows = stream.rows().iterator(_SIZE)
    texts = (row for some in _pieces(rows) for row in _plain(stream, some))
    return _write(folder / "tables" / f"{stream.name}.csv", stream.columns, texts)


def _plain(stream: Stream, rows: list[tuple]) -> Iterator[list]:
    for row in stream.texts(rows):
        yield [bytes(v).hex() if isinstance(v, bytes | memoryview) else v for v in row]


def _pieces(rows: Iterator[tuple]) -> Iterator[list[tuple]]:
    while piece := list(islice(rows, _SIZE)):
        yield piece


def _write(path: Path, columns: Iterable[str], rows: Iterable) -> int:
    number = 0
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(text_of([list(columns)]))
        for row in rows:
            file.write(text_of([row]))
            number += 1
    return number


def _accounts() -> Iterator[list]:
    for user in get_user_model().objects.order_by("id").prefetch_related("groups"):
        roles = "|".join(sorted(group.name for group in user.groups.all()))
        yield [*(getattr(user, name) for name in _ACCOUNT), roles]


def _dictionary_write(folder: Path) -> None:
    """Say of every column what it is, what it refers to, and how it is held."""
    sealed: dict[str, set[str]] = {}
    for stream in streams().values():
        sealed.setdefault(stream.table._meta.label, set()).update(stream.columns)
    rows = []
    for name, stream in archived().items():
        for column in stream.columns:
            field = fields_of(stream.table)[column]
            refers = field.related_model._meta.label if field.related_model else ""
            means = "; ".join(f"{code} = {said}" for code, said in field.flatchoices)
            personal = "yes" if column in personal_columns().get(name, ()) else ""
            held = "sealed" if column in sealed.get(name, ()) else "watched"
            kind = field.get_internal_type().removesuffix("Field")
            rows.append([name, column, field.verbose_name, kind, refers, means, personal, held])
    heads = ["table", "column", "in words", "kind", "refers to", "codes", "personal", "held"]
    _write(folder / "dictionary.csv", heads, rows)


def _lines_write(path: Path, day: date) -> None:
    from services_inventory.frames import record_frame

    frame = record_frame(day)
    if len(frame):
        frame.reset_index().to_file(path, layer="service_lines", driver="GPKG")


def _files_copy(root: Path, target: Path) -> None:
    """Copy what is kept beside the database: documents, photographs, logs, filings, letters."""
    archive = target.parent.resolve()

    def left_out(at: str, names: list[str]) -> list[str]:
        beginnings = (".", *_NOT_COPIED) if Path(at) == root else (".",)
        itself = archive.name if Path(at).resolve() == archive.parent else None
        return [name for name in names if name.startswith(beginnings) or name == itself]

    shutil.copytree(root, target, ignore=left_out)
    all_fetched(target)


def _sums_write(folder: Path) -> None:
    paths = sorted(path for path in folder.rglob("*") if path.is_file())
    lines = [f"{sha256_of(path)}  {path.relative_to(folder).as_posix()}\n" for path in paths]
    (folder / SUMS).write_text("".join(lines), encoding="utf-8")


def archive_restore(folder: Path) -> int:
    """Put an archive into an empty record, of either kind of database; return the rows.

    Accounts come without passwords and second steps: each person is invited anew.

    Raises
    ------
    Refused: the archive is damaged or of another version, or there is a record already.
    """
    tables = archived()
    # Whole rows are asked for, which a database of another version cannot answer.
    full = [name for name, one in tables.items() if one.table._base_manager.first()]
    _check_whole(folder)
    if full or get_user_model().objects.exists():
        raise Refused(f"There is a record already ({', '.join(full[:3]) or 'accounts'}). "
                           "Restore into a new folder of data, or a new database.")  # fmt: skip
    with transaction.atomic():
        _accounts_put(folder)
        number = sum(_table_put(folder, stream) for stream in tables.values())
        bulk.number_on([get_user_model(), *(one.table for one in tables.values())])
    root = Path(settings.DATA_DIR)
    shutil.copytree(folder / "files", root, dirs_exist_ok=True)
    all_handed_over()
    return number


def _check_whole(folder: Path) -> None:
    sums = folder / SUMS
    if not sums.is_file():
        raise Refused(f"{folder} is no archive: it holds no {SUMS}.")
    for line in sums.read_text(encoding="utf-8").splitlines():
        said, _, name = line.partition("  ")
        path = folder / name
        if not path.is_file() or sha256_of(path) != said:
            raise Refused(f"{name} is missing or was altered. Nothing was restored.")


def _rows(path: Path, columns: Iterable[str]) -> Iterator[dict[str, str]]:
    csv.field_size_limit(2**31 - 1)
    with path.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(file)
        if list(rows.fieldnames or ()) != list(columns):
            raise Refused(f"{path.name} has other columns than this version of the program: "
                               "restore it with the version that wrote it.")  # fmt: skip
        yield from rows


def _accounts_put(folder: Path) -> None:
    users = get_user_model()
    fields = fields_of(users)
    for row in _rows(folder / "tables" / "accounts.csv", [*_ACCOUNT, "roles"]):
        user = users(**{name: _value(fields[name], row[name]) for name in _ACCOUNT})
        user.set_unusable_password()
        user.save(force_insert=True)
        user.groups.set(Group.objects.filter(name__in=row["roles"].split("|")))


def _table_put(folder: Path, stream: Stream) -> int:
    fields, number = fields_of(stream.table), 0
    rows = _rows(folder / "tables" / f"{stream.name}.csv", stream.columns)
    while some := list(islice(rows, _SIZE)):
        made: list[Model] = [
            stream.table(**{name: _value(fields[name], text) for name, text in row.items()})
            for row in some
        ]
        stream.table._base_manager.bulk_create(made)
        number += len(made)
    return number


def _value(field: Field, text: str):
    """Return a cell as the column's own value."""
    if text == "" and field.null:
        return None
    if isinstance(field, JSONField):
        return json.loads(text)
    if isinstance(field, BinaryField):
        return bytes.fromhex(text)
    of = field.target_field if isinstance(field, ForeignKey) else field
    return of.to_python(text)


def folder_digest(folder: Path) -> str:
    """Return the SHA-256 of an archive's list of sums: with it the whole can be told again."""
    return hashlib.sha256((folder / SUMS).read_bytes()).hexdigest()
