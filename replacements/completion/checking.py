"""Checking the rows of a filled form before anything is written: each with what is wrong where."""

import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from ..forms.completions import PARTS, CompletionForm
from ..forms.pulls import PullForm
from ..models import CompletionRecord, WorkOrder
from ..operations.completions import completion_objections
from .archive import Drop
from .columns import LOG, ORDER, PULLED_ON, Cell, columns
from .photos import KINDS, PHOTO_LIMIT_BYTES
from .reading import FilledForm, FormRow

_LOG_ENDINGS = (".csv", ".txt", ".tsv", ".log")
_PHOTO_ENDINGS = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".webp")


@dataclass
class CheckedRow:
    """A row with its order, its form, and the files that it speaks of by column."""

    row: FormRow
    order: WorkOrder | None = None
    form: CompletionForm | None = None
    pull: PullForm | None = None
    files: dict[str, str] = field(default_factory=dict)
    digests: dict[str, bytes] = field(default_factory=dict)

    @property
    def good(self) -> bool:
        return not self.row.faults


def check_rows(filled: FilledForm, drop: Drop, contractor_id: int) -> list[CheckedRow]:
    """Return every row with its order and its files; `check_cells` follows when its turn comes."""
    orders = _orders({row.order_number for row in filled.rows}, contractor_id)
    named = _named_by_order(drop)
    checked = [CheckedRow(row, orders.get(row.order_number)) for row in filled.rows]
    _refuse_doubles(checked)
    for each in checked:
        _refuse_order(each)
        _find_files(each, drop, named.get(each.row.order_number, {}))
    return checked


def _orders(numbers: set[str], contractor_id: int) -> dict[str, WorkOrder]:
    found = (
        WorkOrder.objects.filter(contractor_id=contractor_id, number__in=numbers)
        .exclude(state=WorkOrder.State.PLANNED)
        .select_related("line__premise", "contractor")
    )
    return {order.number: order for order in found}


def _refuse_doubles(checked: Iterable[CheckedRow]) -> None:
    rows = defaultdict(list)
    for each in checked:
        rows[each.row.order_number].append(each.row)
    for number, same in rows.items():
        if number and len(same) > 1:
            places = " and ".join(str(row.number) for row in same)
            for row in same:
                row.refuse(ORDER, f"Rows {places} are both for {number}. Keep the right one.")


def _refuse_order(each: CheckedRow) -> None:
    if not each.row.order_number:
        each.row.refuse(ORDER, "Write the number of the work order.")
    elif each.order is None:
        each.row.refuse(ORDER, f"Your company has no work order {each.row.order_number[:30]}.")


def _named_by_order(drop: Drop) -> dict[str, dict[str, list[str]]]:
    """Return number -> column -> files whose names begin with the number and tell their kind."""
    found: dict = defaultdict(lambda: defaultdict(list))
    for key in drop.names:
        match = re.match(r"(w-\d{6,})(.*)", key)
        column = _column_of(match[2]) if match else ""
        if column:
            found[match[1].upper()][column].append(key)
    return found


def _column_of(rest: str) -> str:
    words = re.sub(r"[^a-z]+", "_", rest.rsplit(".", 1)[0]).strip("_")
    if rest.endswith(_LOG_ENDINGS):
        return LOG
    if rest.endswith(_PHOTO_ENDINGS):
        return next((f"photo_{kind}" for kind in KINDS if kind.lower() in words), "")
    return ""


def _find_files(each: CheckedRow, drop: Drop, named: dict[str, list[str]]) -> None:
    for column in columns():
        if column.cell is not Cell.FILE:
            continue
        key = each.row.given.get(column.name, "").replace("\\", "/").rsplit("/", 1)[-1].lower()
        if not key:
            same = named.get(column.name, [])
            if len(same) > 1:
                names = " and ".join(drop.names[name] for name in same[:3])
                each.row.refuse(column.name, f"{names} may both be meant; write which one.")
            key = same[0] if len(same) == 1 else ""
        if key and key not in drop.names:
            each.row.refuse(column.name, f"The drop holds no file {key!r}. Add it, send all again.")
        elif key:
            _refuse_size(each, column.name, drop, key)
            each.files[column.name] = key


def _refuse_size(each: CheckedRow, column: str, drop: Drop, key: str) -> None:
    limit = PHOTO_LIMIT_BYTES if column != LOG else 50 * 1024**2
    if drop.size(key) > limit:
        each.row.refuse(
            column,
            f"{drop.names[key]} has {drop.size(key) / 1024**2:.0f} MB; send at most "
            f"{limit // 1024**2} MB.",
        )


def check_cells(each: CheckedRow) -> CheckedRow:
    """Return a row with its forms filled, each fault of theirs noted at its cell."""
    if each.order is None:
        return each
    data = {name: text for name, text in each.row.given.items() if text}
    if not data.get("method_used"):
        data["method_used"] = each.order.method
    each.form = CompletionForm(data, order=each.order)
    _take_errors(each, each.form)
    if LOG not in each.files:
        return each
    pull = {name: data.get(name) for name in PullForm.base_fields if data.get(name)}
    pull.setdefault("pulled_on", data.get("finished_on"))
    pull.setdefault("count", "1")
    each.pull = PullForm(pull)
    each.pull.fields.pop("log")
    _take_errors(each, each.pull)
    return each


def _take_errors(each: CheckedRow, form) -> None:
    marked = {column for column, _ in each.row.faults}
    for name, sentences in form.errors.items():
        column = ORDER if name == "__all__" else name
        if column == PULLED_ON and "finished_on" in marked:
            continue
        if column not in marked:
            each.row.refuse(column, " ".join(_said(name, form, s) for s in sentences))


def objections_to(each: CheckedRow, at: datetime) -> list[tuple[str, str]]:
    """Return what would keep a row out besides its cells, so that all is mended at once.

    What rests on a cell that cannot be read is not asked for as well; where the note says why a
    stop may stand, it may.
    """
    form, marked = each.form, {column for column, _ in each.row.faults}
    if form is None or not {"outcome", "finished_on"} <= set(form.cleaned_data):
        return []
    form.cleaned_data = {name: form.cleaned_data.get(name) for name in form.fields}
    said = {name: value for name, value in form.said().items() if name != "pull"}
    kinds = [c.replace("photo_", "PHOTO_", 1) for c in each.files if c.startswith("photo_")]
    objections, stops = completion_objections(
        work_order=each.order, at=at, photo_kinds=kinds, **said
    )
    if not form.cleaned_data["note"]:
        objections += [stop_said(stop.rule, stop.message) for stop in stops]
    unread = {field for fields in _TOGETHER for field in fields if marked & fields} | marked
    return [(name, sentence) for name, sentence in objections if name not in unread]


# Fields that are judged together: while one of them cannot be read, the others tell nothing.
_TOGETHER = [{*names.values()} for names in PARTS.values()]

# Where in the form a reviewer's stop is put right.
_COLUMN_OF_RULE = {
    "PRESSURE_TEST": "test_psi",
    "TRACER": "tracer_free",
    "DEPTH": "depth_main_ft",
    "DIMENSIONS": "leading_outside_in",
    "DISINFECTION": "disinfection",
    "CREW_FLUSH": "crew_minutes",
    "PREMISE_FLUSH": "house_minutes",
    "LEAD_REMOVED": "lead_out_ft",
    "BONDING": "bonding_checked",
    "RESTORATION": "restored_on",
    "RETURN_NEEDS_NOTICE": "notice_on",
    "RETURN_NEEDS_FLUSHING_INSTRUCTIONS": "flushing_on",
    "RETURN_NEEDS_FILTER": "filter_on",
    "RETURN_NEEDS_CARTRIDGES": "cartridge_months",
    "PULL_STOP": LOG,
    "PULL_HOLD": LOG,
    "PULL_REJECT": LOG,
}


def stop_said(rule: str, message: str) -> tuple[str, str]:
    """Return the column in which what a rule found is put right, and the sentence for it."""
    photo = rule.replace("PHOTO_", "photo_", 1) if rule.startswith("PHOTO_") else ""
    column = photo or _COLUMN_OF_RULE.get(rule, ORDER)
    return column, f"{message} Put it right, or say in the note why."


def _said(name: str, form, sentence: str) -> str:
    field = form.fields.get(name)
    if field is not None and sentence == field.error_messages.get("required"):
        return f"{field.label} is missing."
    return sentence


def key_of(each: CheckedRow) -> str:
    """Return the key of a row: its order, its words and its files; the same row, the same key."""
    digest = hashlib.sha256()
    told = {name: text for name, text in each.row.given.items() if text and name in _TOLD}
    digest.update(json.dumps(told, sort_keys=True).encode())
    for column, of_file in sorted(each.digests.items()):
        digest.update(column.encode() + of_file)
    return f"{_KEY}{each.order.pk}:{digest.hexdigest()[:40]}"


_KEY = "bundle:"
_TOLD = frozenset(
    column.name for column in columns() if column.cell not in (Cell.GIVEN, Cell.FILE, Cell.REASONS)
)


def handed_in_by_drop(orders: Iterable[int]) -> set[int]:
    """Return those of these orders for which a drop brought a record before."""
    found = CompletionRecord.objects.filter(
        work_order__in=list(orders), idempotency_key__startswith=_KEY
    )
    return set(found.values_list("work_order_id", flat=True))


def handed_in_before(keys: Iterable[str]) -> dict[str, CompletionRecord]:
    """Return the records that came of rows with these keys."""
    found = CompletionRecord.objects.filter(idempotency_key__in=list(keys))
    return {record.idempotency_key: record for record in found.select_related("review")}
