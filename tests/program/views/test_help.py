"""The guides: built whole, read within the program, and true of its commands and tables."""

import re
import shlex

import pytest
from django.apps import apps
from django.contrib.auth.models import Group, User
from django.core.management import load_command_class
from django.core.management.base import CommandError
from django.urls import reverse

from program.help.building import GENERATED, build_help
from program.help.dictionary import APPS, dictionary
from program.roles import PROGRAM_MANAGER
from program.submissions.tables import SHEETS
from tests.source_files import ROOT

DOCS = ROOT / "docs"
GUIDES = [*sorted(DOCS.rglob("*.md")), ROOT / "README.md"]


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """Build the guides once; a link or an anchor that leads nowhere ends this."""
    out = tmp_path_factory.mktemp("help") / "built"
    build_help(out)
    return out


@pytest.fixture
def manager(client):
    """Return a client signed in as a program manager."""
    user = User.objects.create_user("manager", password="a long pass phrase")
    user.groups.add(Group.objects.get(name=PROGRAM_MANAGER))
    client.force_login(user)
    return client


@pytest.fixture
def guides(built, settings):
    """Serve them."""
    settings.HELP_DIR = built


def test_every_guide_is_a_page(built):
    for path in sorted(DOCS.rglob("*.md")):
        name = path.relative_to(DOCS).with_suffix("").as_posix()
        name = name.removesuffix("index").removesuffix("README").rstrip("/")
        assert (built / name / "index.html").is_file(), f"{path} is no page"
    for name in GENERATED:
        assert (built / name.removesuffix(".md") / "index.html").is_file()
    assert (built / "search" / "search_index.json").stat().st_size > 100_000


def test_pages_carry_nothing_that_the_content_security_policy_drops(built):
    for path in built.rglob("*.html"):
        assert not re.search(r"\sstyle=|<script|\son\w+=\"", path.read_text("utf-8")), path


def test_the_dictionary_has_every_table_and_every_submitted_column():
    page = dictionary()
    for label in APPS:
        for model in apps.get_app_config(label).get_models():
            assert f"\n### {str(model._meta.verbose_name).capitalize()}\n" in page
            assert (model.__doc__ or "").strip(), f"{model.__name__} says nothing of itself"
    for sheet in SHEETS.values():
        for column in sheet.columns:
            assert f"| {column.heading} |" in page


def test_pictures_of_the_tutorials_are_there_small_and_used():
    told = "".join(path.read_text("utf-8") for path in (DOCS / "tutorials").glob("*.md"))
    for path in (DOCS / "pictures").iterdir():
        assert f"pictures/{path.name})" in told
        assert path.stat().st_size < 60_000


@pytest.mark.parametrize("path", GUIDES, ids=lambda path: path.name)
def test_the_commands_that_a_guide_writes_out_are_understood(path):
    """A line of its own that begins with `manage.py`; what is in brackets may be left out."""
    for line in re.findall(r"^    (?:\S*python )?manage\.py (.+)$", path.read_text("utf-8"), re.M):
        words = shlex.split(re.sub(r"\[[^\]]*\]", "", line.partition("#")[0]))
        app = next(config for config in apps.get_app_configs() if _has(config, words[0]))
        parser = load_command_class(app.name, words[0]).create_parser("manage.py", words[0])
        try:
            parser.parse_args(words[1:])
        except CommandError as error:
            pytest.fail(f"{path.name}: {line}: {error}")


def _has(config, name: str) -> bool:
    return (ROOT / config.label / "management" / "commands" / f"{name}.py").is_file()


@pytest.mark.django_db
@pytest.mark.usefixtures("guides")
class TestReading:
    """What somebody who is signed in sees of them."""

    def test_a_page_stands_within_the_programs_own_frame(self, manager):
        answer = manager.get(reverse("help_page", args=["tutorials/manager/"]))
        text = answer.content.decode()
        assert "<title>A manager's first morning" in text
        assert 'class="places"' in text
        assert 'aria-current="page">A manager' in text

    def test_help_opens_with_the_list(self, manager):
        assert "A contractor's first morning" in manager.get(reverse("help")).content.decode()

    def test_a_picture_is_given(self, manager):
        answer = manager.get(reverse("help_page", args=["pictures/manager_board.png"]))
        assert answer["Content-Type"] == "image/png"

    @pytest.mark.parametrize(
        ("page", "answer"),
        [
            ("nothing/", 404),
            ("tutorials/manager", 404),
            ("no\0thing/", 404),
            ("../db.sqlite3", 400),
            ("%2e%2e/x/", 400),
        ],
    )
    def test_what_is_no_page_is_refused(self, manager, page, answer):
        assert manager.get("/help/" + page).status_code == answer

    def test_nobody_reads_it_without_signing_in(self, client):
        assert client.get(reverse("help")).status_code == 302


@pytest.mark.django_db
def test_before_they_are_built_the_page_says_so(manager, settings, tmp_path):
    settings.HELP_DIR = tmp_path / "nothing"
    answer = manager.get(reverse("help"))
    assert answer.status_code == 200
    assert "manage.py build_help" in answer.content.decode()
