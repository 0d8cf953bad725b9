"""Logs played into the page of an order: OK, slow, stop, silence, and a broken connection.

Each log holds its word for minutes, until the page has shown it: how busy the machine is says
nothing of the page.
"""

import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import Error

from tests.browser.conftest import ROOT, _environment

LIMIT = 3840
SPEED = 3
# An accepted job of the town is given back, so that it may be pulled on again.
GIVE_BACK = """
from replacements.models import WorkOrder
order = WorkOrder.objects.filter(
    contractor__name__startswith="Heron", state="ACCEPTED", safety__answers__pull__isnull=False,
    tool_strings__isnull=False, length_ft__gte=20,
).first()
WorkOrder.objects.filter(pk=order.pk).update(state="RETURNED")
print(order.number, order.pk)
"""


def manage(folder: Path, *arguments: str) -> str:
    ran = subprocess.run(
        [sys.executable, "manage.py", *arguments], cwd=ROOT, env=_environment(folder),
        check=True, timeout=300, capture_output=True, text=True,
    )  # fmt: skip
    return ran.stdout


# Asked in one go: on a busy machine the next word may come between two questions.
WORD_AND_SHAPE = """([word, shape]) => {
  const shown = [...document.querySelectorAll(".live-shape g")].filter(
    (g) => g.getClientRects().length && getComputedStyle(g).visibility !== "hidden");
  return document.getElementById("live").dataset.word === word
    && document.getElementById("live-word").innerText === word.replace("_", " ")
    && shown.length === 1 && shown[0].classList.contains(`shape-${shape}`);
}"""

FORCE_GONE = "() => document.getElementById('live-force').textContent === '—'"
FORCE_SHOWN = "() => document.getElementById('live-force').textContent !== '—'"


@pytest.fixture
def job(town):
    """Return number and id of an order that may be pulled."""
    number, pk = manage(town.folder, "shell", "--no-imports", "-c", GIVE_BACK).split()[-2:]
    return number, int(pk)


@pytest.fixture
def play(town, tmp_path):
    """Return a function that plays a log at a share of the limit, minutes long unless told."""
    playing = []

    def start(number: str, share: float, seconds: int = 1800):
        lines = [f"{t},{share * LIMIT:.1f},{t / 100:.2f}" for t in range(seconds)]
        path = tmp_path / f"{len(playing)}.csv"
        path.write_text("\n".join(["Time (s),Force (lbf),Distance (ft)", *lines]) + "\n")
        command = ["play_pull", str(path), "--order", number, "--speed", str(SPEED)]
        playing.append(
            subprocess.Popen(
                [sys.executable, "manage.py", *command],
                cwd=ROOT, env=_environment(town.folder), stdout=subprocess.DEVNULL,
            )
        )  # fmt: skip
        return playing[-1]

    yield start
    for process in playing:
        process.kill()
        process.wait(timeout=20)


def seen(page, word: str, shape: str) -> None:
    """Wait until a word stands with its shape and no other; nothing leaves the screen."""
    page.wait_for_function(WORD_AND_SHAPE, arg=[word, shape], timeout=240_000)
    assert asked(page, "document.documentElement.scrollWidth") <= page.viewport_size["width"]
    of_sign = "(({scrollWidth, clientWidth}) => scrollWidth - clientWidth)"
    assert asked(page, f"{of_sign}(document.getElementById('live'))") <= 0


BETWEEN_PAGES = ("context was destroyed", "properties of null (reading 'scrollWidth')")


def asked(page, script: str):
    """Return what the page answers; it loads itself anew, once, when a feed begins or ends."""
    for _ in range(3):
        try:
            return page.evaluate(script)
        except Error as error:
            if not any(words in str(error) for words in BETWEEN_PAGES):
                raise
            page.wait_for_load_state()
    return page.evaluate(script)


@pytest.mark.parametrize("width", [390, 1280])
def test_played_logs_show_ok_slow_and_stop_and_the_end_is_told(width, town, job, play, signed_in):
    page = signed_in("heron", width=width)
    page.goto(f"{town.address}/work/orders/{job[1]}/live/")
    for word, share in (("OK", 0.4), ("SLOW", 0.85), ("STOP", 0.93)):
        playing = play(job[0], share)
        seen(page, word, word)
        page.wait_for_function(FORCE_SHOWN)
        playing.kill()
        assert "the limit, 3,840 lb" in page.locator("#live-limit").inner_text()
    page.wait_for_selector("#live-played", state="visible")
    size = asked(
        page, "parseFloat(getComputedStyle(document.getElementById('live-word')).fontSize)"
    )
    assert size >= 76, "capitals of 0.35 in. on a phone 2.5 in. wide are read from ten feet"
    play(job[0], 0.4, seconds=6)
    seen(page, "ENDED", "rest")
    page.wait_for_function(FORCE_GONE)  # an answer that was on its way may still show its own


def test_a_feed_that_ceases_and_a_connection_that_breaks_leave_no_force_behind(
    town, job, play, signed_in
):
    page = signed_in("heron", width=390)
    page.goto(f"{town.address}/work/orders/{job[1]}/live/")
    process = play(job[0], 0.4)
    seen(page, "OK", "OK")
    process.kill()
    seen(page, "NO_SAMPLE", "blind")
    page.wait_for_function(FORCE_GONE)  # an answer that was on its way may still show its own
    page.wait_for_selector("#live-said:has-text('read the gauge')")
    page.context.set_offline(True)
    seen(page, "NO_LINK", "blind")
    assert "the connection is broken" in page.locator("#live-said").inner_text()
    page.context.set_offline(False)
    seen(page, "NO_SAMPLE", "blind")
