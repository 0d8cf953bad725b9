"""Which way knowledge runs: what import contracts can't see.

`lint-imports` holds the layers of imports. Here: what points up without an import (migrations,
labels in strings, addresses and templates), the layers inside an app, what the pure domain may
lean on, where SQL that differs between engines may stand, and what must not be loaded until
a file or a plan needs it.
"""

import ast
import os
import re
import subprocess
import sys

import pytest
from django.conf import settings

from tests.source_files import (
    APPS,
    ROOT,
    app_of,
    dotted,
    functions,
    imports,
    migrations,
    modules,
    strings,
    tree,
)

ABOVE = {app: APPS[place + 1 :] for place, app in enumerate(APPS)}

# Loaded by a file or a plan, never by starting the program.
HEAVY = (
    *("pandas", "geopandas", "pyogrio", "shapely", "pyproj", "pyarrow", "numpy", "scipy"),
    *("highspy", "reportlab", "openpyxl", "xlsxwriter", "holidays"),
    *("icalendar", "PIL", "pillow_heif", "pypdf"),
)


def listed(breaches) -> str:
    """Return the breaches one a line, for the message of a failing test."""
    return "\n  ".join(["", *breaches])


# Facts below, work in the middle, promises on top


@pytest.mark.parametrize("app", APPS)
def test_no_migration_depends_upward(app):
    breaches = [
        f"{path}: depends on {node.elts[0].value}"
        for path in migrations(app)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Tuple)
        and node.elts
        and isinstance(node.elts[0], ast.Constant)
        and node.elts[0].value in ABOVE[app]
    ]
    assert not breaches, listed(breaches)


@pytest.mark.parametrize("app", APPS)
def test_no_label_in_a_string_points_upward(app):
    above = "|".join(ABOVE[app]) or "nothing-is-above"
    label = re.compile(rf"^({above})\.\w+(\.\w+)*$")
    breaches = [
        f"{path}:{line}: {text!r}"
        for path in (*modules(app), *migrations(app))
        for text, line in strings(path)
        if label.match(text) or text in ABOVE[app]
    ]
    assert not breaches, listed(breaches)


@pytest.mark.parametrize("app", APPS)
def test_no_model_is_looked_up_by_name(app):
    breaches = [
        f"{path}:{node.lineno}"
        for path in modules(app)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Attribute) and node.attr == "get_model"
    ]
    assert not breaches, listed(breaches)


@pytest.mark.parametrize("app", APPS[:2])
def test_templates_lean_on_nothing_above_but_the_bare_frame(app):
    """A lower app extends `base.html`, whoever provides it, and names no permission above it."""
    above = "|".join(ABOVE[app])
    breaches = [
        f"{path.relative_to(ROOT)}: {found[0]}"
        for path in sorted((ROOT / app / "templates").rglob("*.html"))
        for found in re.finditer(
            rf"""perms\.({above})\b|(?:extends|include|static)\s+["']({above})/""",
            path.read_text(encoding="utf-8"),
        )
    ]
    assert not breaches, listed(breaches)


def names_of_addresses(app: str) -> set[str]:
    """Return the bare names of an app's pages; those in a namespace are not written bare."""
    return {
        keyword.value.value
        for path in modules(app)
        if "urls" in path.stem and "app_name =" not in (ROOT / path).read_text(encoding="utf-8")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Call)
        for keyword in node.keywords
        if keyword.arg == "name" and isinstance(keyword.value, ast.Constant)
    }


@pytest.mark.parametrize("app", APPS[:2])
def test_pages_link_to_nothing_above(app):
    """An upper app may show where its own pages are; a lower one does not know them."""
    frame = {"board", "help", "login", "logout"}
    above = set().union(*(names_of_addresses(other) for other in ABOVE[app])) - frame
    breaches = [
        f"{path.relative_to(ROOT)}: {found[1]}"
        for path in sorted((ROOT / app / "templates").rglob("*.html"))
        for found in re.finditer(r"""{% url ["'](\w+)["']""", path.read_text(encoding="utf-8"))
        if found[1] in above
    ]
    for path in modules(app):
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Call) and node.args and isinstance(node.func, ast.Name):
                first = node.args[0]
                if node.func.id in ("reverse", "redirect", "reverse_lazy"):
                    if isinstance(first, ast.Constant) and first.value in above:
                        breaches.append(f"{path}:{node.lineno}: {first.value}")
    assert not breaches, listed(breaches)


# Inside an app: urls -> views | commands -> forms | filters -> operations -> queries -> models

LAYERS = {
    name: rank
    for rank, names in enumerate(
        (
            ("domain",),
            ("models",),
            ("queries",),
            ("operations",),
            ("forms", "filters"),
            ("views", "management", "api"),
            ("urls",),
        )
    )
    for name in names
}


@pytest.mark.parametrize("app", APPS)
def test_imports_inside_an_app_go_down(app):
    breaches = []
    for path in modules(app):
        mine = LAYERS.get(path.with_suffix("").parts[1])
        for name, line, _ in imports(path):
            parts = name.split(".")
            theirs = LAYERS.get(parts[1]) if parts[0] in APPS and len(parts) > 1 else None
            if mine is not None and theirs is not None and theirs > mine:
                breaches.append(f"{path}:{line}: {name}")
    assert not breaches, listed(breaches)


# The domain is pure

LAZILY_ALLOWED = {"numpy", "scipy", "holidays", "icalendar"}


@pytest.mark.parametrize("app", APPS)
def test_the_domain_imports_the_standard_library_and_lower_domains_only(app):
    below = tuple(f"{other}.domain" for other in APPS[: APPS.index(app) + 1])
    breaches = []
    for path in modules(f"{app}/domain"):
        for name, line, at_top in imports(path):
            top = name.split(".")[0]
            ours = top in APPS and name.startswith(below)
            lazy = top in LAZILY_ALLOWED and not at_top
            if not (ours or lazy or top in sys.stdlib_module_names):
                breaches.append(f"{path}:{line}: {name}")
    assert not breaches, listed(breaches)


# What a database, a network or chance would bring in without an import of Django.
IMPURE = {"sqlite3", "socket", "urllib", "http", "subprocess", "threading", "time", "asyncio"}


@pytest.mark.parametrize("app", APPS)
def test_the_domain_reaches_for_nothing_outside_itself(app):
    breaches = [
        f"{path}:{line}: {name}"
        for path in modules(f"{app}/domain")
        for name, line, _ in imports(path)
        if name.split(".")[0] in IMPURE
    ]
    assert not breaches, listed(breaches)


CLOCKS = re.compile(
    r"^((datetime\.)?(date|datetime)\.(today|now|utcnow)|time\.time"
    r"|timezone\.(now|localdate|localtime))$"
)
MAY_READ_A_CLOCK = {
    "services_inventory/today.py",
    "program/clock.py",
    # How long ago a process last gave a sign: the machine's time, whatever day is shown.
    "services_inventory/progress.py",
}


def reads_a_clock(node: ast.AST) -> bool:
    """Tell a question for the present from a conversion of a moment that is given."""
    if not isinstance(node, ast.Call) or not CLOCKS.match(ast.unparse(node.func)):
        return False
    return not node.args or ast.unparse(node.func).endswith("datetime.now")


@pytest.mark.parametrize("app", APPS)
def test_the_clock_is_read_in_one_place(app):
    breaches = [
        f"{path}:{node.lineno}: {ast.unparse(node)}"
        for path in modules(app)
        if str(path) not in MAY_READ_A_CLOCK
        for node in ast.walk(tree(path))
        if reads_a_clock(node)
    ]
    assert not breaches, listed(breaches)


def runs_batches(path) -> bool:
    """Tell whether the worker enters here: nobody above such a function could give it the day."""
    runners = {kind["run"].rsplit(".", 1)[1] for kind in settings.BATCH_KINDS.values()}
    return any(name in {*runners, "batch_run"} for name, *_ in functions(path))


@pytest.mark.parametrize("app", APPS)
def test_only_views_commands_and_the_worker_ask_the_day(app):
    """Below them the day is a parameter, so that any past day can be asked for."""
    asking = re.compile(r"^(services_inventory\.today|program\.clock)\b")
    breaches = [
        f"{path}:{line}: {name}"
        for path in modules(app)
        if LAYERS.get(path.with_suffix("").parts[1], 99) <= LAYERS["operations"]
        for name, line, _ in imports(path)
        if asking.match(name) and not runs_batches(path)
    ]
    assert not breaches, listed(breaches)


# SQL that one engine only understands

ENGINE_WORDS = re.compile(
    r"\bON CONFLICT\b|\bINSERT OR\b|\bREPLACE INTO\b|\bPRAGMA\b|\bCOPY\s+\w+\s*\(|\bILIKE\b"
    r"|\bDISTINCT ON\b|\browid\b|\bsqlite_\w+|\bpg_\w+\(|\bjulianday\(|\bstrftime\('|\bjson_each\("
    r"|\bjsonb_\w+\(|\bto_char\(|\bGLOB\b|\bVACUUM\b|::\w+|\bUNLOGGED\b"
)
SQL = re.compile(r"\b(SELECT|INSERT|UPDATE|DELETE|CREATE|DROP|PRAGMA|COPY|VACUUM|ANALYZE)\b")
# Where SQL of one engine is the point: how SQLite is opened, and a file format that is SQLite.
ENGINE_PLACES = {
    "services_inventory/bulk.py",
    "program/settings.py",
    "program/submissions/geopackage.py",
}


def test_sql_of_one_engine_stands_in_one_module():
    breaches = [
        f"{path}:{line}: {text.strip()[:80]!r}"
        for path in modules(*APPS, "fixtures")
        if str(path) not in ENGINE_PLACES
        for text, line in strings(path)
        if SQL.search(text) and ENGINE_WORDS.search(text)
    ]
    assert not breaches, listed(breaches)


def test_no_other_module_speaks_to_the_driver():
    """No cursor, no question which engine this is, no engine's own fields, outside bulk."""
    attributes = {"cursor", "vendor", "chunked_cursor", "connection"}
    breaches = []
    for path in modules(*APPS, "fixtures"):
        if str(path) in ENGINE_PLACES:
            continue
        for node in ast.walk(tree(path)):
            if isinstance(node, ast.Attribute) and node.attr in attributes:
                if ast.unparse(node.value) in ("connection", "connections['default']"):
                    breaches.append(f"{path}:{node.lineno}: {ast.unparse(node)}")
        breaches += [
            f"{path}:{line}: {name}"
            for name, line, _ in imports(path)
            if name.startswith(("django.contrib.postgres", "psycopg", "services_inventory.bulk.on"))
        ]
    assert not breaches, listed(breaches)


# What starting the program loads


def printed_by(script: str, folder) -> list[str]:
    """Return the lines that a script prints in a process of its own."""
    ran = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "program.settings", "DATA_DIR": str(folder)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.splitlines()


def test_heavy_libraries_wait_until_a_file_or_a_plan_needs_them(tmp_path):
    script = (
        f"import sys, program.wsgi; print(*(name for name in {HEAVY!r} if name in sys.modules))"
    )
    assert printed_by(script, tmp_path) == [""]


def test_a_command_starts_without_the_code_of_any_page(tmp_path):
    """Its checks read every address; none of them loads its page."""
    script = (
        "import sys; from django.core.management import execute_from_command_line as run; "
        "run(['manage.py', 'check']); "
        "print(*(name for name in sys.modules if '.views.' in name or '.forms.' in name"
        " or name.startswith(('rest_framework', 'drf_spectacular'))))"
    )
    loaded = printed_by(script, tmp_path)[-1].split()
    ours = [name for name in loaded if not name.startswith("django.")]
    assert ours == ["program.views.condition"]


def test_heavy_libraries_are_never_imported_at_the_top_of_what_a_page_imports():
    """The names of the offenders, where the check above tells only that there is one."""
    start = {f"{app}.{name}" for app in APPS for name in ("apps", "urls", "models")}
    known = {dotted(path): path for path in modules(*APPS)}
    reached, waiting, breaches = set(), sorted(start), []
    while waiting:
        name = waiting.pop()
        if name in reached or name not in known:
            continue
        reached.add(name)
        for target, line, at_top in imports(known[name]):
            if not at_top:
                continue
            if target.split(".")[0] in HEAVY:
                breaches.append(f"{known[name]}:{line}: {target}")
            parts = target.split(".")
            waiting += [".".join(parts[:end]) for end in range(1, len(parts) + 1)]
    assert not breaches, listed(breaches)
    assert "services_inventory.views.batches" in reached, "the walk no longer follows the pages"


# The walk itself


def test_the_tests_above_look_at_the_whole_house():
    """A folder that moved would otherwise pass by being empty."""
    for app in APPS:
        assert len(modules(app)) > 20
        assert len(modules(f"{app}/domain")) > 5
        assert migrations(app)
    assert {app_of(path) for path in modules()} == set(APPS)
    assert any(name == "batch_run" for name, *_ in functions(_batches()))


def _batches():
    return next(path for path in modules() if path.match("operations/batches.py"))
