"""The house rules that a reader relies on: names, sizes, roles, and documents that can't drift."""

import ast
import re
import subprocess
import sys

import pytest
from django.conf import settings
from django.contrib.auth.models import Permission
from django.core.management import get_commands

from program.roles import ROLES
from tests.source_files import APPS, ROOT, functions, modules, strings, tree

DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")

TOP_LEVEL = {
    *("services_inventory", "replacements", "program", "fixtures", "tests", "docs"),
    *(
        "README.md",
        "DEVELOPERS.md",
        "manage.py",
        "pyproject.toml",
        "biome.json",
        ".ci",
        ".gitignore",
    ),
}


def listed(breaches) -> str:
    """Return the breaches one a line, for the message of a failing test."""
    return "\n  ".join(["", *breaches])


def kept_files() -> list[str]:
    """Return the files under version control, or those that would be, as paths from the root."""
    asked = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    listing = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True)
    if listing.returncode:
        pytest.skip("this copy has no version control")
    return [name for name in listing.stdout.splitlines() if (ROOT / name).is_file()]


# Names and places


def test_the_top_level_holds_the_agreed_rooms_only():
    rooms = {name.split("/")[0] for name in kept_files()}
    assert {name for name in rooms if not name.startswith(".")} - TOP_LEVEL == set()


def test_no_module_is_called_not_placed_yet():
    """A service is a water pipe here; the others mean that nobody decided where it belongs."""
    vague = {"services", "service", "utils", "util", "helpers", "helper", "signals", "common"}
    vague |= {"misc", "stuff", "lib"}
    breaches = [
        str(path)
        for path in modules(*APPS, "fixtures", "tests")
        if vague & {path.stem, *path.parent.parts}
    ]
    assert not breaches, listed(breaches)


def test_every_tests_folder_is_a_package():
    """Two test files of one name would otherwise clash."""
    folders = {path.parent for path in modules("tests")}
    breaches = [str(folder) for folder in folders if not (ROOT / folder / "__init__.py").exists()]
    assert not breaches, listed(breaches)


# Sizes


def test_no_module_is_longer_than_500_lines():
    breaches = [
        f"{path}: {length}"
        for path in modules(*APPS, "fixtures", "tests")
        if (length := (ROOT / path).read_text(encoding="utf-8").count("\n")) > 500
    ]
    assert not breaches, listed(breaches)


def test_no_function_is_longer_than_60_lines():
    breaches = [
        f"{path}:{node.lineno}: {name} has {length} lines"
        for path in modules(*APPS, "fixtures")
        for name, node, length in functions(path)
        if length > 60
    ]
    assert not breaches, listed(breaches)


def test_views_are_thin():
    """A view reads a request, makes one call and renders: at most fifteen statements.

    A call or a dict written one argument a line is one statement; the whole stays on one screen.
    The function itself and its docstring are two more that the walk meets.
    """
    breaches = [
        f"{path}:{node.lineno}: {name} has {length} lines"
        for path in modules(*(f"{app}/views" for app in APPS))
        for name, node, length in functions(path)
        if length > 25 or sum(isinstance(part, ast.stmt) for part in ast.walk(node)) > 15 + 2
    ]
    assert not breaches, listed(breaches)


# What we refuse


@pytest.mark.parametrize("app", APPS)
def test_saving_a_row_does_nothing_else(app):
    """Business effects live in operations, where a reader looks for them."""
    overridden = {"save", "delete", "bulk_create"}
    breaches = [
        f"{path}:{node.lineno}: {name}"
        for path in modules(f"{app}/models")
        for name, node, _ in functions(path)
        if node.name in overridden
    ]
    assert not breaches, listed(breaches)


@pytest.mark.parametrize("app", APPS)
def test_no_effect_hangs_on_a_signal(app):
    """The roles after a migration are the one exception: Django offers no other moment."""
    breaches = [
        f"{path}:{node.lineno}: {ast.unparse(node)[:80]}"
        for path in modules(app)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Attribute)
        and node.attr in ("pre_save", "post_save", "pre_delete", "post_delete", "m2m_changed")
    ]
    assert not breaches, listed(breaches)


@pytest.mark.parametrize("app", APPS)
def test_no_star_imports(app):
    breaches = [
        f"{path}:{node.lineno}"
        for path in modules(app)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.ImportFrom) and any(name.name == "*" for name in node.names)
    ]
    assert not breaches, listed(breaches)


@pytest.mark.parametrize("app", APPS)
def test_big_tables_have_no_order_of_their_own(app):
    """`Meta.ordering` would sort a million rows behind the reader's back."""
    big = {"ServiceLine", "Premise", "Evidence", "CategoryChange", "HeldRow", "Batch"}
    breaches = [
        f"{path}: {node.name}"
        for path in modules(f"{app}/models")
        for node in ast.walk(tree(path))
        if isinstance(node, ast.ClassDef)
        and node.name in big
        and re.search(r"\bordering = ", ast.unparse(node))
    ]
    assert not breaches, listed(breaches)


NOT_KEPT = re.compile(
    r"\b(TO" r"DO|FIX" r"ME|XX" r"X)\b|/wo" r"rk/(?:main|shared)|/tm" r"p/\w|\.py" r"env/|files\.py"
    r"thonhosted|index-ur" r"l|extra-in" r"dex"
)  # fmt: skip


TEXTS = (
    ".py",
    ".md",
    ".toml",
    ".html",
    ".js",
    ".css",
    ".csv",
    ".sh",
    ".service",
    ".timer",
    ".conf",
)


def test_nothing_kept_names_this_machine_a_registry_or_work_left_over():
    breaches = [
        f"{name}:{number}: {line.strip()[:90]}"
        for name in kept_files()
        if name.endswith(TEXTS)
        for number, line in enumerate((ROOT / name).read_text("utf-8").splitlines(), 1)
        if NOT_KEPT.search(line)
    ]
    assert not breaches, listed(breaches)


def test_pages_carry_no_script_or_event_of_their_own():
    """The content security policy would silence them, and nobody would notice."""
    inline = re.compile(r"<script(?![^>]*\bsrc=)(?![^>]*application/json)|\son\w+\s*=\s*[\"']")
    breaches = [
        f"{path.relative_to(ROOT)}: {found[0]}"
        for app in APPS
        for path in sorted((ROOT / app).rglob("templates/**/*.html"))
        for found in inline.finditer(path.read_text(encoding="utf-8"))
    ]
    assert not breaches, listed(breaches)


def written() -> list:
    """Return the templates, styles and scripts of the three apps."""
    return [
        path
        for app in APPS
        for pattern in (
            "templates/**/*.html",
            "templates/**/*.js",
            "static/**/*.css",
            "static/**/*.js",
            "submissions/kit/*.*[!y]",
        )
        for path in sorted((ROOT / app).glob(pattern))
    ]


def test_templates_styles_and_scripts_read_in_a_diff():
    breaches = [
        f"{path.relative_to(ROOT)}:{number}: {len(line)} characters"
        for path in written()
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if len(line) > 120
    ]
    breaches += [
        f"{path.relative_to(ROOT)}: {length} lines"
        for path in written()
        if (length := path.read_text("utf-8").count("\n")) > 500
    ]
    assert len(written()) > 150
    assert not breaches, listed(breaches)


def test_no_template_or_script_carries_a_style_of_its_own():
    """The content security policy would drop it; classes say what it is for."""
    breaches = [
        f"{path.relative_to(ROOT)}: {found[0]}"
        for path in written()
        if path.suffix != ".css"
        for found in re.finditer(
            r"\sstyle=[\"'][^\"']*|<style\b|\bstyle:\s*[\"'`][^\"'`]*", path.read_text("utf-8")
        )
    ]
    assert not breaches, listed(breaches)


def test_templates_are_indented():
    templates = [str(path) for path in written() if path.suffix == ".html"]
    asked = [sys.executable, "-m", "djhtml", "--tabwidth", "2", "--check", *templates]
    answer = subprocess.run(asked, cwd=ROOT, capture_output=True, text=True)
    assert not answer.returncode, answer.stderr[-2000:]


# Roles


@pytest.mark.django_db
@pytest.mark.parametrize("role", ROLES)
def test_what_a_role_may_do_is_declared_by_an_app(role):
    declared = {
        f"{app}.{codename}"
        for app, codename in Permission.objects.values_list("content_type__app_label", "codename")
    }
    assert set(ROLES[role]) - declared == set()


def declared_permissions() -> set[str]:
    """Return the permissions that our models declare in their `Meta`."""
    from django.apps import apps

    return {
        f"{app}.{codename}"
        for app in APPS
        for model in apps.get_app_config(app).get_models()
        for codename, _ in model._meta.permissions
    }


def test_every_declared_permission_belongs_to_a_role():
    given = {string for strings_ in ROLES.values() for string in strings_}
    assert declared_permissions() - given == set()


def test_every_permission_that_is_asked_for_belongs_to_a_role():
    """A misspelled permission would close a page to everybody but an administrator."""
    given = {string for strings_ in ROLES.values() for string in strings_}
    codenames = {string.split(".")[1] for string in given}
    looks_like = re.compile(rf"^({'|'.join(APPS)})\.([a-z]+_[a-z_]+)$")
    not_permissions = {kind["run"] for kind in settings.BATCH_KINDS.values()}
    asked = {
        (text, f"{path}:{line}")
        for path in modules(*APPS)
        if {"views", "api", "context.py", "roles.py"} & set(path.parts)
        for text, line in strings(path)
        if looks_like.match(text) and text not in not_permissions
    }
    asked |= {
        (f"{found[1]}.{found[2]}", str(path.relative_to(ROOT)))
        for app in APPS
        for path in sorted((ROOT / app).rglob("templates/**/*.html"))
        for found in re.finditer(r"\bperms\.(\w+)\.(\w+)", path.read_text(encoding="utf-8"))
    }
    assert codenames, "the table of roles is empty"
    breaches = [f"{where}: {text}" for text, where in sorted(asked) if text not in given]
    assert not breaches, listed(breaches)


# Documents that can't drift


def test_every_setting_from_the_environment_is_documented():
    source = (ROOT / "program" / "settings.py").read_text(encoding="utf-8")
    read = set(re.findall(r"""\benvironment\.\w+\(\s*["']([A-Z_]+)["']""", source))
    section = DEVELOPERS.split("## Settings")[1].split("\n## ")[0]
    documented = set(re.findall(r"`([A-Z][A-Z_]+)`", section))
    assert read == documented


def test_every_command_is_documented():
    ours = {name for name, app in get_commands().items() if app in APPS}
    documented = set(re.findall(r"`manage\.py (\w+)", DEVELOPERS))
    assert ours - documented == set()
    assert documented - set(get_commands()) == set()


def test_every_option_of_a_documented_command_exists():
    from django.core.management import load_command_class

    breaches = []
    commands = get_commands()
    for name, given in re.findall(r"`manage\.py (\w+)([^`]*)`", DEVELOPERS):
        if name not in commands or commands[name] not in APPS:
            continue
        usage = load_command_class(commands[name], name).create_parser("manage.py", name)
        known = {option for action in usage._actions for option in action.option_strings}
        breaches += [f"{name} {o}" for o in re.findall(r"--[\w-]+", given) if o not in known]
    assert not breaches, listed(breaches)


def test_every_kind_of_long_operation_has_a_runner():
    from django.utils.module_loading import import_string

    for kind, described in settings.BATCH_KINDS.items():
        assert callable(import_string(described["run"])), kind
        assert described["label"], kind


def test_every_file_that_a_document_names_exists():
    """Links between our documents, and paths in code marks that look like ours."""
    breaches = []
    documents = [ROOT / name for name in kept_files() if name.endswith(".md")]
    for document in documents:
        text = document.read_text(encoding="utf-8")
        where = document.relative_to(ROOT)
        for link in re.findall(r"\]\((?!https?:|mailto:|#)([^)#\s]+)", text):
            if not (document.parent / link).exists():
                breaches.append(f"{where}: link to {link}")
        for path in re.findall(rf"`((?:{'|'.join(APPS)}|tests|docs|fixtures)/[\w/.]+)`", text):
            if not (ROOT / path).exists() and not list(ROOT.glob(f"{path}*")):
                breaches.append(f"{where}: `{path}`")
    assert not breaches, listed(breaches)
