"""What intake loads: neither Django nor the heavy libraries until a file needs them."""

import subprocess
import sys

HEAVY = ("django", "numpy", "pandas", "geopandas", "shapely", "pyogrio", "pyarrow", "openpyxl")


def test_checking_text_loads_no_heavy_library(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("location id,address,system side material\nL-1,12 Main St,Pb\n")
    program = f"""
import sys
from datetime import date
from services_inventory.intake.checking import RowChecker
from services_inventory.intake.columns import guess
from services_inventory.intake.held import write_held
from services_inventory.intake.reading import open_table
table = open_table({str(path)!r})
checker = RowChecker(guess(table.header), table.header, as_of=date(2031, 1, 15))
assert checker.check_many(table.rows()).row_numbers == [2]
print([name for name in {HEAVY!r} if name in sys.modules])
"""
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
