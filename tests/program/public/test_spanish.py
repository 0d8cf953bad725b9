"""Every sentence of the public pages and at the door is there in Spanish, compiled too."""

import ast
import csv
import gettext
import re
import shutil
import subprocess
from pathlib import Path

import pytest
import textstat
from django.test import override_settings
from django.utils.translation import trans_real

from program.languages import languages_in
from program.notices.templates_text import own_words

PROGRAM = Path(__file__).resolve().parents[3] / "program"
FOLDER = PROGRAM / "locale" / "es" / "LC_MESSAGES"
BLOCK = r"{% blocktranslate ?(.*?)%}(.*?){% endblocktranslate %}"


def catalog():
    with open(FOLDER / "django.mo", "rb") as file:
        return gettext.GNUTranslations(file)._catalog


def marked() -> set[str]:
    """What templates and code mark for translation, read without Django's own extractor."""
    found = set()
    templates = PROGRAM / "templates"
    for path in (*(templates / "public").glob("*.html"), *(templates / "registration").glob("*")):
        text = path.read_text(encoding="utf-8")
        found |= {m[2] for m in re.finditer(r"{% translate (['\"])(.*?)\1 %}", text)}
        for options, block in re.findall(BLOCK, text, re.S):
            if options.startswith("trimmed"):
                block = " ".join(line.strip() for line in block.strip().splitlines())
            found.add(re.sub(r"{{ (\w+) }}", r"%(\1)s", block))
    doors = PROGRAM / "doors.py", PROGRAM / "views" / "doors.py"
    for path in (*(PROGRAM / "public").glob("*.py"), *doors):
        text = path.read_text(encoding="utf-8")
        for call in re.findall(r"\b_\(\s*((?:\"[^\"]*\"\s*)+)\)", text):
            found.add("".join(re.findall(r'"([^"]*)"', call)))
    return found


def test_every_marked_sentence_has_a_spanish_one():
    spanish = catalog()
    assert len(marked()) > 90
    assert not sorted(sentence for sentence in marked() if not spanish.get(sentence))


@pytest.mark.parametrize("sign", [r"%\(\w+\)s", r"{\w+}"])
def test_placeholders_are_the_same_in_both_languages(sign):
    for english, spanish in catalog().items():
        assert sorted(re.findall(sign, english)) == sorted(re.findall(sign, spanish)), english


def _joined(quoted: str) -> str:
    return "".join(ast.literal_eval(line) for line in quoted.splitlines())


def test_the_compiled_file_is_that_of_the_text_file():
    text = (FOLDER / "django.po").read_text(encoding="utf-8")
    pair = r'^msgid ((?:"[^\n]*"\n)+)msgstr ((?:"[^\n]*"\n?)+)'
    kept = {(_joined(m[1]), _joined(m[2])) for m in re.finditer(pair, text, re.M)}
    compiled = catalog()
    assert len(kept) > 90
    assert all(not english or compiled[english] == spanish for english, spanish in kept)


def test_a_language_is_offered_once_its_catalog_lies_there(tmp_path, client, db):
    """A .po file alone, compiled by msgfmt as `compilemessages` does."""
    folder = tmp_path / "fr" / "LC_MESSAGES"
    shutil.copytree(FOLDER.parents[1], tmp_path, dirs_exist_ok=True)
    folder.mkdir(parents=True)
    head = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=UTF-8\\n"\n\n'
    said = 'msgid "Look up an address"\nmsgstr "Chercher une adresse"\n'
    (folder / "django.po").write_text(head + said, encoding="utf-8")
    subprocess.run(["msgfmt", folder / "django.po", "-o", folder / "django.mo"], check=True)
    languages = languages_in(tmp_path)
    assert languages == [("en", "English"), ("es", "Español"), ("fr", "Français")]
    assert client.get("/public/fr/").status_code == 404
    with override_settings(LANGUAGES=languages, LOCALE_PATHS=[tmp_path]):
        trans_real.reset_cache(setting="LANGUAGES", enter=True)
        page = client.get("/public/fr/").text
        assert "Chercher une adresse" in page and 'href="/public/es/"' in page
        assert 'href="/public/fr/"' in client.get("/public/en/").text
        english = client.get("/public/", headers={"accept-language": "pl"})
        assert english.url == "/public/en/"
    trans_real.reset_cache(setting="LANGUAGES", enter=False)


def _glossary():
    with open(FOLDER.parent / "glossary.csv", encoding="utf-8", newline="") as file:
        return [(row["english"], row["spanish"]) for row in csv.DictReader(file)]


@pytest.mark.parametrize(("english", "spanish"), _glossary())
def test_terms_of_the_glossary_are_translated_as_it_says(english, spanish):
    pairs = list(catalog().items())
    for block, kind, language in own_words():
        if language == "en":
            spoken = own_words()[block, kind, "es"]
            pairs.append((own_words()[block, kind, "en"], spoken))
    term = re.compile(rf"\b{english}(?!\w*-up)", re.IGNORECASE)
    used = [(said, told) for said, told in pairs if term.search(said)]
    assert used, "no text uses it: take it out of the glossary"
    assert not [said for said, told in used if not re.search(spanish, told, re.IGNORECASE)]


def public_texts():
    """What residents read in English, in passages long enough to be graded, and letters too."""
    letters = [text for (_, _, language), text in own_words().items() if language == "en"]
    public = [re.sub(r"%\(\w+\)s|{\w+}", "twelve", text) for text in (*marked(), *letters)]
    return sorted(text for text in public if len(text.split()) > 5)


def test_residents_read_at_eighth_grade():
    """Flesch-Kincaid (Kincaid and others, 1975), as textstat computes it."""
    hard = {text: textstat.flesch_kincaid_grade(text) for text in public_texts()}
    assert len(hard) > 90
    assert not {text: grade for text, grade in hard.items() if grade > 8}
    assert textstat.flesch_kincaid_grade("Utilization of certified filtration is recommended.") > 8
