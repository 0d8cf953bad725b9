"""Builds the guides into static pages: what `docs/` holds, and what is generated beside it."""

import shutil
from collections.abc import Callable
from pathlib import Path
from tempfile import mkdtemp

from django.conf import settings

from program.help.dictionary import dictionary

ROOT = Path(settings.BASE_DIR)


def build_help(out: Path) -> None:
    """Build the guides into a folder, in place of what it held; a broken link is an error.

    Raises `mkdocs.exceptions.MkDocsException` with the sentence of what is wrong.
    """
    from mkdocs.commands.build import build  # the web server never needs it
    from mkdocs.config import load_config

    out.parent.mkdir(parents=True, exist_ok=True)
    scratch = Path(mkdtemp(prefix=".unfinished-help-", dir=out.parent))
    try:
        config = load_config(
            str(Path(__file__).parent / "mkdocs.yml"), site_dir=str(scratch / "site")
        )
        config.plugins["generated"] = _generated_pages()
        build(config)
        shutil.rmtree(out, ignore_errors=True)
        (scratch / "site").replace(out)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)


def _developers() -> str:
    """Return the map of the house, with its links as they are from within `docs/`."""
    return (ROOT / "DEVELOPERS.md").read_text("utf-8").replace("](docs/", "](")


FRAMED = {
    "<table>": '<div class="table-box" tabindex="0"><table>',
    "</table>": "</table></div>",
    "<pre>": '<pre tabindex="0">',
}
GENERATED: dict[str, Callable[[], str]] = {
    "data_dictionary.md": dictionary,
    "developers.md": _developers,
}


def _generated_pages():
    from mkdocs.plugins import BasePlugin
    from mkdocs.structure.files import File

    class GeneratedPages(BasePlugin):
        """Adds the pages that no file holds, and lets wide parts scroll within their frame."""

        def on_files(self, files, *, config):
            for name, text in GENERATED.items():
                files.append(File.generated(config, name, content=text()))
            return files

        def on_page_content(self, html, **_about):
            for plain, framed in FRAMED.items():
                html = html.replace(plain, framed)
            return html

    return GeneratedPages()
