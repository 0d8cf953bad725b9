"""The languages of the public pages and the doors: English, and each that has a catalog."""

from pathlib import Path

from django.conf import settings
from django.conf.locale import LANG_INFO


def languages_in(folder: Path) -> list[tuple[str, str]]:
    """Return (code, its own name) of English and of every language compiled in a folder."""
    codes = sorted(path.parents[1].name for path in folder.glob("*/LC_MESSAGES/django.mo"))
    return [
        (code, str(LANG_INFO.get(code, {}).get("name_local", code)).capitalize())
        for code in ("en", *codes)
    ]


def language_for(wanted: str) -> str:
    """Return the language for a wish such as "es-mx"; English where there is none."""
    spoken = dict(settings.LANGUAGES)
    return next((code for code in (wanted, wanted.split("-")[0]) if code in spoken), "en")
