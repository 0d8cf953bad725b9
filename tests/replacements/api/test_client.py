"""The client of docs/api.md does what the page says, run as a contractor would run it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from replacements.models import CompletionRecord, ContactAttempt
from tests.replacements.api.test_api import bearer, jpeg
from tests.replacements.factories import LATER, contractor, order

pytestmark = pytest.mark.django_db(transaction=True)


def day():
    """Return the day that the client works on."""
    return LATER.date()


def test_the_client_lists_orders_records_a_visit_and_says_why_it_was_refused(
    live_server, tmp_path, settings
):
    settings.NOW = "tests.replacements.api.test_api.moment"
    settings.TODAY = "tests.replacements.api.test_client.day"
    page = (Path(settings.BASE_DIR) / "docs" / "api.md").read_text()
    program = page.split("```python\n")[1].split("```")[0]
    assert len(program.splitlines()) <= 100
    (tmp_path / "client.py").write_text(program)
    (tmp_path / "door.jpg").write_bytes(jpeg())
    company = contractor()
    job = order(company)
    token = bearer(company)["Authorization"].removeprefix("Bearer ")

    def run(*words, token=token):
        return subprocess.run(
            [sys.executable, "client.py", *words],
            cwd=tmp_path,
            env=os.environ | {"PROGRAM": live_server.url, "TOKEN": token},
            capture_output=True,
            text=True,
            check=False,
        )

    assert job.number in run().stdout
    visit = run(str(job.pk), "door.jpg")
    assert f"{job.number} is handed in." in visit.stdout, visit.stderr
    assert CompletionRecord.objects.get().photos.count() == 1
    assert ContactAttempt.objects.get().outcome == "Nobody at home."
    again = run(str(job.pk), "door.jpg")
    assert again.returncode == 1
    assert again.stderr.startswith("4")
    assert CompletionRecord.objects.count() == 1
    assert "401" in run(token="wrong").stderr
