"""The cells of a record form's workbook, whatever they hold.

Runs in a process of its own (`services_inventory.apart`), and so knows no Django.
"""

import zipfile
from io import BytesIO

from services_inventory.intake.reading.table import UnreadableFile
from services_inventory.intake.reading.workbooks import loaded
from services_inventory.zips import MAX_RATIO

from .archive import DropRefused

SHEET = "Records"
MAX_ROWS = 5_000
_MAX_SHEET_BYTES = 100 * 1024**2


def lines_of_form(content: bytes, name: str) -> list[list]:
    """Return the cells of the sheet of records, line by line from the first on.

    Raises
    ------
    DropRefused: it cannot be opened, would unpack to far more than a form, or reaches too far.
    """
    from python_calamine import CalamineError, CalamineWorkbook

    _refuse_workbook(content, name)
    try:
        book = CalamineWorkbook.from_filelike(BytesIO(content))
        sheet = SHEET if SHEET in book.sheet_names else book.sheet_names[0]
        grid, unusable = loaded(BytesIO(content), book, sheet)
    except UnreadableFile as error:
        raise DropRefused(f"{name}: {error}") from error
    except (CalamineError, IndexError, ValueError, OSError) as error:
        raise DropRefused(
            f"{name} cannot be read as a workbook. Save it as .xlsx again."
        ) from error
    lines = grid.to_python(skip_empty_area=False, nrows=MAX_ROWS + 50)
    for number, cells in unusable.items():
        for at, cell in cells.items():
            if number <= len(lines) and at < len(lines[number - 1]):
                lines[number - 1][at] = cell
    return lines


def _refuse_workbook(content: bytes, name: str) -> None:
    try:
        with zipfile.ZipFile(BytesIO(content)) as parts:
            infos = parts.infolist()
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise DropRefused(f"{name} is no workbook, whatever its name says.") from error
    unpacked = sum(info.file_size for info in infos)
    if unpacked > _MAX_SHEET_BYTES or unpacked > MAX_RATIO * max(len(content), 64 * 1024):
        raise DropRefused(f"{name} would unpack to far more than a record form. Nothing was taken.")
