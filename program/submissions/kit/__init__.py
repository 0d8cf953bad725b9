"""The reviewer's kit: one page that counts a submission again, from a disk, without a network."""

import re
from pathlib import Path

KIT_NAME = "check-this-submission.html"
_FOLDER = Path(__file__).parent
_STYLE = re.compile(r'<link rel="stylesheet" href="([\w.]+)">')
_SCRIPT = re.compile(r'<script src="([\w.]+)"></script>')


def reviewers_kit() -> bytes:
    """Return the page with its style and its scripts inside, so that it needs no other file."""
    page = _text("kit.html")
    page = _STYLE.sub(lambda found: f"<style>\n{_text(found[1])}</style>", page)
    page = _SCRIPT.sub(lambda found: f"<script>\n{_text(found[1])}</script>", page)
    return page.encode()


def _text(name: str) -> str:
    return (_FOLDER / name).read_text(encoding="utf-8")
