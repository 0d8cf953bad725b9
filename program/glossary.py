"""The glossary's words, as pages explain them in place."""

from functools import cache

from django.conf import settings


@cache
def meanings() -> dict[str, str]:
    """Return what each word of `docs/glossary.md` means, by the word in small letters."""
    found = {}
    for row in (settings.BASE_DIR / "docs" / "glossary.md").read_text("utf-8").splitlines():
        cells = [cell.strip() for cell in row.strip("|").split("|")]
        if row.startswith("|") and len(cells) == 2 and cells[0] not in ("word", "---"):
            words = cells[0].casefold().replace(" (", ", ").replace(")", "").split(", ")
            found |= dict.fromkeys(words, cells[1])
    return found
