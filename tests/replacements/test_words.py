"""Card and sheets in Spanish: every text of the tables is there, sentences find theirs."""

import csv
import re
import tomllib
from pathlib import Path
from subprocess import run

import pytest

from replacements import words
from replacements.domain.cautions import all_cautions
from replacements.domain.tool_strings import assembly_checks
from replacements.models import WorkPackage
from replacements.packages.print_pack import print_pack
from replacements.phone.described import forms_described
from replacements.sheets.job_sheet import job_sheet
from replacements.sheets.string_sheet import string_sheet
from tests.replacements.factories import DAY, order, ready

SPANISH = words.FOLDER / "es" / "LC_MESSAGES"
REFERENCE = words.FOLDER.parent / "reference"


def texts_of_data() -> set[str]:
    """Return what the tables say on card and sheets."""
    gates = tomllib.loads((REFERENCE / "start_gates.toml").read_text("utf-8"))["gate"]
    rules = csv.DictReader((REFERENCE / "string_rules.csv").open(encoding="utf-8"))
    steps = tomllib.loads((REFERENCE / "card_steps.toml").read_text("utf-8"))["step"]
    return {
        *(str(caution) for caution in all_cautions()),
        *(t for c in assembly_checks() for t in (c.shows, c.label, c.criterion, c.why)),
        *(rule["do"] for rule in rules),
        *(t for gate in gates for t in (gate["says"], gate["do"])),
        *(t for step in steps for t in (step["title"], *step.get("label", {}).values())),
        *(said["says"] for step in steps for said in step.get("so", ())),
    }


def test_every_text_of_the_tables_is_translated():
    known = words.catalog("es")
    assert sorted(texts_of_data() - set(known)) == []


@pytest.mark.django_db
def test_every_question_of_the_phone_is_translated():
    described = forms_described()
    fields = [*described["card"]["fields"].values()]
    fields += [field for group in described["record"] for field in group["fields"]]
    for name in ("attempt", "consent", "appointment", "pull"):
        fields += described[name]
    texts = {field["label"] for field in fields} | {field["help"] for field in fields}
    texts |= {label for field in fields for _, label in field.get("choices", ())}
    with words.speaking("es"):
        same = {t for t in texts if t and re.search("[a-z]{3}", t) and words.said(t) == t}
    assert same <= {"hmong", "Residual, mg/L", "Hmong"} | {t for t in texts if t == "no"}


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        ("Nobody near the cable", "Nadie cerca del cable"),
        ("Pit at the main: spoil set back 1.5 ft; at least 2 ft.",
         "Fosa en la red: tierra retirada 1.5 ft; al menos 2 ft."),
        ("Ticket T-1 ran out on Apr 9, 2028.", "El boleto T-1 venció el 9 abr 2028."),
        ("3/4 in. lead AA", "3/4 in. plomo AA"),
        ("12 Mill St", "12 Mill St"),
        ("439 lb (new pipe; PE4710, up to 73 °F)", "439 lb (tubería nueva; PE4710, hasta 73 °F)"),
        ("Cable CA-1: total pull 3,073 lb against 3,840 lb, 80% used.",
         "Cable CA-1: tiro total 3,073 lb contra 3,840 lb, 80% usado."),
        ("10 broken wires in one lay, at most 5: retire the cable.",
         "10 alambres rotos en un paso, 5 como máximo: retire el cable."),
        ("rated 900 lb, outside 1.34 in., length 4 in.",
         "capacidad 900 lb, exterior 1.34 in., largo 4 in."),
        ("No pit is on record. Record every pit.",
         "No hay ninguna fosa registrada. Registre cada fosa."),
    ],
)  # fmt: skip
def test_a_sentence_is_found_by_its_pattern(english, spanish):
    with words.speaking("es"):
        assert words.said(english) == spanish
    assert words.said(english) == english


def test_a_language_that_nobody_wrote_is_english():
    with words.speaking("tlh"):
        assert words.said("Nobody near the cable") == "Nobody near the cable"


def test_each_translation_keeps_its_figures():
    for english, spanish in words.catalog("es").items():
        places = re.compile(r"\{[^}]*\}")
        assert sorted(places.findall(english)) == sorted(places.findall(spanish)), english
        numbers = re.compile(r"\d+(?:[./]\d+)?")
        extra = {"911", "811"}
        assert (
            set(numbers.findall(places.sub("", english)))
            <= set(numbers.findall(places.sub("", spanish))) | extra
        ), english


def test_the_compiled_catalog_is_that_of_the_text(tmp_path):
    run(["msgfmt", "-o", str(tmp_path / "new.mo"), str(SPANISH / "django.po")], check=True)
    assert (tmp_path / "new.mo").read_bytes() == (SPANISH / "django.mo").read_bytes()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Stop at 3,840 lb (cable).", "Stop at 3,840 lb (17.08 kN) (cable)."),
        ("spoil 2 ft back", "spoil 2 ft (0.6096 m) back"),
        ("1-1/8 in., bore 3/4 in.", "1-1/8 in. (28.57 mm), bore 3/4 in. (19.05 mm)"),
        ("relief 407 psi", "relief 407 psi (28.06 bar)"),
        ("at 2 ft/s, 5 ft-lb, PE 4710", "at 2 ft/s, 5 ft-lb, PE 4710"),
        ("gauge ________ psi, tail _______ in, zone ____ ft", "gauge ________ bar, tail _______ mm"
         ", zone ____ m"),
    ],
)  # fmt: skip
def test_a_crew_that_measures_in_meters_reads_and_writes_them(text, told):
    with words.speaking("en", metric=True):
        assert words.said(text) == told
        assert words.said(words.said(text)) == told  # what passes twice is told once
    assert words.said(text) == text


def test_the_metric_behind_a_figure_is_that_of_the_units():
    with words.speaking("en", metric=True):
        for unit, (metric, factor) in {
            "ft": ("m", 0.3048), "in.": ("mm", 25.4), "lb": ("kN", 0.0044482216152605),
            "psi": ("bar", 0.0689475729317831),
        }.items():  # fmt: skip
            assert words.said(f"1 {unit}") == f"1 {unit} ({factor:.4g} {metric})"


@pytest.mark.django_db
@pytest.mark.parametrize("method", ["SPLIT", "OPEN_CUT"])
def test_no_text_of_sheets_and_pack_is_left_in_english(method, monkeypatch):
    work = order(method=method)
    if method == "SPLIT":
        ready(work)
    package = WorkPackage(name="W-1", contractor=work.contractor, year=2028)
    shown = []
    real = words.said

    def listen(text):
        told = real(text)
        shown.append((text, told))
        return told

    for module in ("sheets.page", "sheets.string_sheet", "sheets.svg_figure", "packages.pack_map"):
        monkeypatch.setattr(f"replacements.{module}.said", listen)
    with words.speaking("es"):
        assert job_sheet(work, DAY) and string_sheet(work, DAY)
        assert print_pack(package, [work], DAY)
    known = set(words.catalog("es").values())
    spanish = re.compile(r"[áéíóúñ]|Registrado|\b(de|el|la)\b")
    english = re.compile(r"\b(the|of|and|not|is|at|on|no|for|to)\b")
    left = {
        text for text, told in shown
        if text == told and text not in known and english.search(text) and not spanish.search(text)
    }  # fmt: skip
    assert left == set()


def test_what_an_estimate_tells_a_crew_is_told_in_spanish():
    approved = Path(__file__).parent / "domain" / "pull_sentences.txt"
    lines = approved.read_text("utf-8").splitlines()
    told = {re.sub(r" \[.*", "", line.strip()) for line in lines if line.startswith("    ")}
    with words.speaking("es"):
        same = {text for text in told if words.said(text) == text}
    assert len(told) > 40 and same == set()
