"""The package as a whole: cheap to import, its settings marked and sourced."""

import subprocess
import sys

from program.planning.defaults import planning_defaults

HEAVY = ("numpy", "scipy", "highspy", "shapely", "pyproj", "holidays", "icalendar", "pandas")


def test_importing_the_planning_modules_loads_no_heavy_library():
    modules = (
        "charts crew_calendar defaults forecast geometry priority routes scenarios solver unknowns"
        " work_areas"
    )
    code = (
        "import sys, importlib\n"
        f"for name in {modules.split()!r}: importlib.import_module('program.planning.' + name)\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_every_default_has_a_mark_a_source_and_a_sentence():
    for default in planning_defaults().values():
        assert default.mark in {"seen", "memory", "derived", "judgment"}
        assert default.source
        assert default.summary.endswith(".")
        assert default.unit
