"""Drops as a contractor would send them (all invented)."""

import zipfile
from datetime import date
from io import BytesIO

from openpyxl import load_workbook
from PIL import Image

from fixtures.pull_logs import synthetic_log
from replacements.completion.columns import columns
from replacements.packages.record_form import form_of_orders
from services_inventory.operations.batches import batch_open, batch_run
from tests.replacements.factories import LATER

GOOD = {
    "outcome": "replaced",
    "finished_on": date(2028, 4, 10),
    "system_found": "lead",
    "customer_found": "lead",
    "system_replaced": "yes",
    "customer_replaced": "yes",
    "length_ft": 35,
    "method_used": "Slit in place, new pipe follows",
    "static_psi": 60,
    "test_psi": 100,
    "test_minutes": 15,
    "test_drop_psi": 0,
    "test_settled_minutes": 5,
    "tracer_free": "yes",
    "tracer_signal": "yes",
    "tracer_ohm": 2,
    "depth_main_ft": 4.5,
    "depth_house_ft": 4.5,
    "leading_outside_in": 1.125,
    "cut_off_ft": 2,
    "disinfection": "plumbing 24h",
    "dose_mg_l": 50,
    "hours": 24,
    "residual_mg_l": 25,
    "crew_minutes": 10,
    "crew_velocity": 3,
    "house_minutes": 30,
    "aerators_off": "yes",
    "bottom_floor_up": "yes",
    "cold_only": "yes",
    "lead_out_ft": 35,
    "lead_left_ft": 0,
    "bonding_checked": "yes",
    "restored_on": date(2028, 4, 10),
    "notice_on": date(2028, 4, 10),
    "flushing_on": date(2028, 4, 10),
    "filter_on": date(2028, 4, 10),
    "cartridge_months": 6,
    "sample_offered_on": date(2028, 4, 10),
}
KINDS = ("old_pipe", "lead_removed", "new_at_main", "new_at_house", "restored")


def jpeg(color=(90, 90, 90), size=(120, 90), gps=None) -> bytes:
    """Return a photo, with a place in its metadata where one is given (degrees, north and west)."""
    image = Image.new("RGB", size, color)
    exif = Image.Exif()
    if gps:
        latitude, longitude = gps
        exif[0x8825] = {
            1: "N" if latitude >= 0 else "S",
            2: _parts(abs(latitude)),
            3: "E" if longitude >= 0 else "W",
            4: _parts(abs(longitude)),
        }
        exif[0x8769] = {0x9003: "2028:04:10 09:15:00", 0x9286: b"ASCII\0\0\0private words"}
    out = BytesIO()
    image.save(out, "JPEG", exif=exif)
    return out.getvalue()


def _parts(degrees: float) -> tuple[float, float, float]:
    whole = int(degrees)
    minutes = (degrees - whole) * 60
    return float(whole), float(int(minutes)), round((minutes - int(minutes)) * 60, 4)


def filled(orders, rows=None, change=None) -> bytes:
    """Return the orders' form with each row filled; `rows` maps an order's number to changes."""
    book = load_workbook(BytesIO(form_of_orders(orders, "Spring")))
    sheet = book["Records"]
    places = {column.name: place for place, column in enumerate(columns(), start=1)}
    for number, order in enumerate(orders, start=3):
        values = GOOD | (change or {}) | (rows or {}).get(order.number, {})
        for name, value in values.items():
            sheet.cell(number, places[name], value)
    out = BytesIO()
    book.save(out)
    return out.getvalue()


def files_of(order, seed=0, kinds=KINDS) -> dict[str, bytes]:
    """Return a log and photos named by the order."""
    shade = (order.pk * 7 + seed) % 200
    photos = {
        f"{order.number}_{kind}.jpg": jpeg((shade, 20 * place, 90))
        for place, kind in enumerate(kinds)
    }
    return {f"{order.number}_pull.csv": synthetic_log(35.2, seed=order.pk).encode(), **photos}


def zipped(files: dict[str, bytes], **how) -> BytesIO:
    """Return a zip of files."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, **how) as made:
        for name, content in files.items():
            made.writestr(name, content)
    out.seek(0)
    out.name = "drop.zip"
    return out


def taken(company, files: dict[str, bytes], at=LATER, by="crew", report=None):
    """Return the batch of a drop, run."""
    return run(company, zipped(files), by=by, report=report, at=at)


def run(company, file, by="crew", report=None, at=LATER):
    """Return the batch of a dropped file, run."""
    from django.core.files import File

    batch = batch_open(
        kind="COMPLETIONS",
        by=by,
        at=at,
        file=File(file, name=getattr(file, "name", "drop.zip")),
        parameters={"contractor_id": company.pk, "user_id": None},
        owner_key=f"contractor:{company.pk}",
    )
    return batch_run(batch=batch, report=report)
