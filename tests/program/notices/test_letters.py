"""Letters: what must be in a slot is never invented, and what is printed can be read back."""

import csv
import subprocess
from datetime import date
from io import BytesIO

import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader

from program.notices.letter_page import (
    INCH,
    NUMBER_10,
    PAGE_HEIGHT,
    Fonts,
    Sender,
    UnprintableText,
)
from program.notices.letters import Letter, print_letters
from program.notices.templates_text import (
    KIND_LABELS,
    EmptySlot,
    NoticeError,
    NoticeKind,
    SlotText,
    SlotTexts,
    UnknownPlaceholder,
    Wording,
    blocks,
    blocks_of,
    empty_slots,
    fill,
)

SENDER = Sender(
    system_name="Town of Example Water",
    pwsid="ZZ0000001",
    address=("1 Plant Road", "Example, ZZ 00000"),
    phone="555-0100",
    website="water.example",
)
AGENCY = "Invented words standing for the agency's text."
FILLED = SlotTexts(
    tuple(
        SlotText(block, language, f"{AGENCY} {block} {language}")
        for block in ("health_effects", "reduce_exposure")
        for language in ("en", "es")
    )
)
VALUES = {
    "work_date": "2030-06-07",
    "found_date": "2030-06-08",
    "received_date": "2030-06-09",
    "sample_date": "2030-06-10",
    "until_date": "2030-12-07",
    "finding": "the customer side is lead",
    "result": "0.004 mg/L",
}


def letter(number=1, **given):
    about = {
        "reference": f"N-{number:05d}",
        "kind": NoticeKind.LEAD,
        "language": "en",
        "mail_to": ("Resident", f"{number} Example Street", "Example, ZZ 00000"),
        "location_id": f"L{number:05d}",
        "service_address": f"{number} Example Street",
        "values": VALUES,
    }
    return Letter(**(about | given))


def printed(folder, letters, texts=FILLED, **given):
    given = {"sender": SENDER, "dated": date(2031, 1, 15)} | given
    return print_letters(folder, letters, texts=texts, **given)


def words(path):
    """Return the text of each page on one line, as a reader that copies it gets it."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(path).pages]


class TestSlots:
    @pytest.mark.parametrize("kind", NoticeKind)
    def test_every_notice_with_a_prescribed_block_refuses_an_empty_slot(self, tmp_path, kind):
        slots = [block for block in blocks_of(kind) if block.is_slot]
        if kind in (NoticeKind.DISPUTE_REPLY, NoticeKind.SAMPLE_INVITATION):
            assert slots == []
            return
        with pytest.raises(EmptySlot) as error:
            printed(tmp_path, [letter(kind=kind)], SlotTexts())
        assert error.value.block == slots[0]
        for part in (KIND_LABELS[kind], "Health effects of lead", "141.85(a)(1)(ii)", "English"):
            assert part in str(error.value)
        assert list(tmp_path.iterdir()) == []

    def test_white_space_is_not_text(self, tmp_path):
        texts = SlotTexts(
            (SlotText("health_effects", "en", " \n "), SlotText("reduce_exposure", "en", "x"))
        )
        with pytest.raises(EmptySlot, match="Health effects of lead"):
            printed(tmp_path, [letter()], texts)

    def test_a_slot_filled_in_english_does_not_serve_spanish(self, tmp_path):
        texts = SlotTexts(tuple(s for s in FILLED.filled if s.language == "en"))
        with pytest.raises(EmptySlot, match="Español"):
            printed(tmp_path, [letter(1), letter(2, language="es")], texts)
        assert list(tmp_path.iterdir()) == []

    def test_a_language_without_our_own_words_needs_every_block(self):
        empty = empty_slots(FILLED, [NoticeKind.DISPUTE_REPLY], ["en", "es", "pl"])
        assert [(e.block.id, e.language) for e in empty] == [
            ("statement", "pl"),
            ("inspection_offer", "pl"),
            ("contact", "pl"),
        ]

    def test_no_prescribed_block_has_words_of_our_own(self):
        empty = empty_slots(SlotTexts(), NoticeKind, ["en", "es"])
        assert {e.block.id for e in empty} == {"health_effects", "reduce_exposure"}
        assert all(block.citation and block.mark for block in blocks())

    def test_a_prescribed_block_cannot_be_left_out(self, tmp_path):
        with pytest.raises(NoticeError, match="'health_effects' cannot be left out"):
            printed(tmp_path, [letter(leave_out=("health_effects",))])

    def test_the_filter_is_left_out_where_the_work_calls_for_none(self, tmp_path):
        def text(**given):
            batch = printed(tmp_path, [letter(kind=NoticeKind.DISTURBANCE, **given)])
            return " ".join(words(batch.files[0]))

        assert "certified to reduce lead" in text()
        assert "certified to reduce lead" not in text(leave_out=("filter",))

    def test_staff_words_replace_ours_and_a_notices_own_wins(self):
        texts = SlotTexts(
            (
                *FILLED.filled,
                SlotText("contact", "en", "Ring the bell."),
                SlotText("contact", "en", "Ring twice.", kind=NoticeKind.GRR),
            )
        )
        said = {p.block: p.text for p in texts.passages(NoticeKind.LEAD, "en")}
        assert said["contact"] == "Ring the bell."
        said = {p.block: p.text for p in texts.passages(NoticeKind.GRR, "en")}
        assert said["contact"] == "Ring twice."

    def test_text_for_an_unknown_block_is_refused_with_the_nearest(self):
        with pytest.raises(NoticeError, match="try health_effects"):
            SlotTexts((SlotText("health_effect", "en", "x"),))

    @pytest.mark.parametrize(
        ("kind", "wanted", "unwanted"),
        [
            # The table of 141.85(e)(3): how to replace for lead and GRR, how to verify for unknown.
            ("LEAD", "replacement_help", "verify_material"),
            ("GRR", "replacement_help", "verify_material"),
            ("UNKNOWN", "verify_material", "replacement_help"),
        ],
    )
    def test_each_category_gets_its_own_blocks(self, kind, wanted, unwanted):
        ids = [block.id for block in blocks_of(NoticeKind(kind))]
        assert wanted in ids
        assert unwanted not in ids
        assert {"statement", "health_effects", "reduce_exposure", "contact"} <= set(ids)

    def test_optional_blocks_print_only_when_filled(self):
        assert [b.id for b in blocks() if b.wording is Wording.OPTIONAL] == ["language_help"]
        plain = FILLED.passages(NoticeKind.LEAD, "en")
        texts = SlotTexts((*FILLED.filled, SlotText("language_help", "en", "Ważne")))
        assert len(texts.passages(NoticeKind.LEAD, "en")) == len(plain) + 1


class TestPlaceholders:
    def test_are_filled_once_and_never_from_a_value(self):
        assert fill("{a} and {b}", {"a": "{b}", "b": "2"}) == "{b} and 2"
        assert fill("a { brace } {}", {}) == "a { brace } {}"

    def test_a_missing_value_is_named(self):
        with pytest.raises(UnknownPlaceholder, match=r"asks for \{work_date\}.* holds phone"):
            fill("On {work_date}", {"phone": "1", "work_date": " "})

    def test_a_letter_without_its_value_is_kept_back_and_the_rest_printed(self, tmp_path):
        kind = NoticeKind.DISTURBANCE
        batch = printed(tmp_path, [letter(1, kind=kind), letter(2, kind=kind, values={})])
        assert batch.printed == 1
        assert [r.reference for r in batch.refused] == ["N-00002"]
        assert "{work_date}" in batch.refused[0].sentence


class TestPage:
    @pytest.mark.parametrize("kind", NoticeKind)
    @pytest.mark.parametrize("language", ["en", "es"])
    def test_holds_each_block_its_address_and_its_reference(self, tmp_path, kind, language):
        batch = printed(tmp_path, [letter(7, kind=kind, language=language)])
        text = " ".join(words(batch.files[0]))
        for part in ("N-00007", "7 Example Street", "Town of Example Water", "555-0100"):
            assert part in text
        for block in blocks_of(kind):
            if block.is_slot:
                assert f"{AGENCY} {block.id} {language}" in text
            if block.wording is not Wording.OPTIONAL:
                assert block.headings[language] in text
        assert "{" not in text

    @pytest.mark.parametrize("lines", [2, 3, 4])
    def test_the_address_shows_in_the_window_and_nothing_else_does(self, tmp_path, lines):
        # Envelope and window sizes: common practice, no source (see NUMBER_10).
        mail_to = tuple(f"MAIL line {n}" for n in range(lines))
        batch = printed(tmp_path, [letter(mail_to=mail_to)])
        placed = []

        def visit(text, _cm, matrix, _font, _size):
            if text.strip():
                placed.append((text.strip(), matrix[4], PAGE_HEIGHT - matrix[5]))

        PdfReader(batch.files[0]).pages[0].extract_text(visitor_text=visit)
        left, top, right, bottom = NUMBER_10.address_box()
        swept = NUMBER_10.swept_box()
        address = [p for p in placed if p[0].startswith("MAIL")]
        assert len(address) == lines
        for _text, x, y in address:
            assert left <= x < right
            assert top < y - 7 and y <= bottom  # capitals stand some 7 points high
        for text, x, y in placed:
            if not text.startswith("MAIL"):
                inside = swept[0] <= x <= swept[2] and swept[1] < y < swept[3]
                assert not inside, text

    def test_the_box_is_what_the_window_shows_at_both_ends_of_the_slide(self):
        left, top, right, bottom = (edge / INCH for edge in NUMBER_10.address_box())
        for slide_x in (0, NUMBER_10.width - 8.5):
            assert NUMBER_10.window_left <= left + slide_x
            assert right + slide_x <= NUMBER_10.window_left + NUMBER_10.window_width
        panel = 11 / 3
        for lift in (0, NUMBER_10.height - panel):
            assert panel - bottom + lift >= NUMBER_10.window_bottom
            assert panel - top + lift <= NUMBER_10.window_bottom + NUMBER_10.window_height

    def test_a_long_letter_goes_on_with_its_heading_beside_its_text(self, tmp_path):
        long = SlotTexts(
            (
                SlotText("health_effects", "en", "Word " * 900),
                SlotText("reduce_exposure", "en", "Step.\n\nNext."),
            )
        )
        batch = printed(tmp_path, [letter(1), letter(2)], long)
        pages = words(batch.files[0])
        assert batch.pages == len(pages) > 2
        assert sum(page.count("Word") for page in pages) == 1_800
        heading = "Steps you can take to reduce exposure"
        assert all(heading + " Step." in page for page in pages if heading in page)
        assert f"N-00001 1 / {len(pages) // 2}" in pages[0]

    def test_text_is_drawn_and_not_interpreted(self, tmp_path):
        rude = "<b>1</b> &amp; (Main) \\ St </para>"
        batch = printed(tmp_path, [letter(service_address=rude)])
        assert rude in " ".join(words(batch.files[0]))

    def test_accents_print_and_come_back(self, tmp_path):
        batch = printed(tmp_path, [letter(mail_to=("Ñandú Élan", "4 Straße", "Łask Šid"))])
        text = " ".join(words(batch.files[0]))
        for word in ("Ñandú Élan", "4 Straße", "Łask Šid"):
            assert word in text

    def test_a_word_longer_than_a_line_is_cut_and_not_lost(self, tmp_path):
        batch = printed(tmp_path, [letter(service_address="x" * 300)])
        assert "".join(words(batch.files[0])).count("x") >= 300


class TestKeptBack:
    @pytest.mark.parametrize(
        ("given", "sentence"),
        [
            ({"mail_to": ("Resident", "1 Main 🚰 St", "Town")}, "which the letters' font lacks"),
            ({"mail_to": ("Дом", "1 Main St", "Town")}, "U+0414"),
            ({"service_address": "שלום 4"}, "use the mail-merge list"),
            ({"mail_to": ("Resident", "y" * 300, "Town")}, "too long for the window"),
            ({"mail_to": ("a", "b", "c", "d", "e")}, "has 5 lines; the window shows 2 to 4"),
            ({"mail_to": ()}, "has 0 lines"),
        ],
    )
    def test_one_bad_address_keeps_back_one_letter(self, tmp_path, given, sentence):
        batch = printed(tmp_path, [letter(1), letter(2, **given), letter(3)])
        assert batch.printed == 2
        assert batch.refused[0].reference == "N-00002"
        assert sentence in batch.refused[0].sentence
        text = " ".join(words(batch.files[0]))
        assert "N-00001" in text
        assert "N-00002" not in text
        assert "N-00003" in text

    def test_text_that_every_letter_holds_stops_the_batch(self, tmp_path):
        texts = SlotTexts((*FILLED.filled, SlotText("contact", "en", "电话")))
        with pytest.raises(UnprintableText, match="U\\+7535"):
            printed(tmp_path, [letter()], texts)
        assert list(tmp_path.iterdir()) == []

    def test_a_font_that_is_not_there_is_a_sentence(self, tmp_path):
        with pytest.raises(NoticeError, match="'gone.ttf' cannot be used"):
            printed(tmp_path, [letter()], fonts=Fonts(regular="/nowhere/gone.ttf"))


class TestBatch:
    def test_is_split_over_files_and_listed_for_the_mail_merge(self, tmp_path):
        heard = []
        letters = [letter(n) for n in range(1, 8)]
        letters[3] = letter(4, mail_to=("only one line",))
        batch = printed(
            tmp_path,
            iter(letters),
            per_file=3,
            total=7,
            report=lambda done, total: heard.append((done, total)),
        )
        assert [f.name for f in batch.files] == [f"letters-{n:04d}.pdf" for n in (1, 2, 3)]
        assert heard[-1] == (7, 7)
        with open(batch.merge_list, encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        assert [row["reference"] for row in rows] == [one.reference for one in letters]
        assert rows[3]["file"] == ""
        assert "has 1 lines" in rows[3]["not_printed_because"]
        for row in rows[:3] + rows[4:]:
            page = words(tmp_path / row["file"])[int(row["first_page"]) - 1]
            assert row["reference"] in page
            assert row["mail_2"] in page
        assert batch.pages == sum(int(row["pages"] or 0) for row in rows)

    def test_the_mail_merge_cannot_run_a_formula(self, tmp_path):
        bad = '=HYPERLINK("x")'
        batch = printed(tmp_path, [letter(mail_to=(bad, "@b"), service_address=bad)])
        with open(batch.merge_list, encoding="utf-8", newline="") as file:
            row = next(csv.DictReader(file))
        assert (row["mail_1"], row["mail_2"], row["service_address"]) == (
            "'" + bad,
            "'@b",
            "'" + bad,
        )

    def test_the_same_letters_give_the_same_bytes(self, tmp_path):
        one = printed(tmp_path / "a", [letter(n) for n in range(5)])
        two = printed(tmp_path / "b", [letter(n) for n in range(5)])
        assert one.files[0].read_bytes() == two.files[0].read_bytes()

    def test_no_letters_give_an_empty_list_and_no_pdf(self, tmp_path):
        batch = printed(tmp_path, [])
        assert (batch.files, batch.printed, batch.pages) == ((), 0, 0)
        assert batch.merge_list.exists()


def bar_codes(path, page=1):
    """Return what an independent reader (ZXing) reads from a page at 200 dots an inch."""
    shot = subprocess.run(
        ["pdftoppm", "-r", "200", "-f", str(page), "-l", str(page), "-gray", "-png", path],
        check=True, capture_output=True,
    )  # fmt: skip
    with Image.open(BytesIO(shot.stdout)) as picture:
        return [(code.format.name, code.text) for code in zxingcpp.read_barcodes(picture)]


class TestEnvelope:
    @pytest.mark.parametrize(
        ("street", "number", "codes"),
        [("7 Mill St", 7, 2), ("12345 Old Saint Bartholomew Avenue East Apt 12", 1_000_001, 1)],
    )
    def test_its_number_is_read_by_a_scanner_and_through_the_window_where_it_fits(
        self, tmp_path, street, number, codes
    ):
        mail_to = ("To everyone served at", street, "Example, ZZ 00000")
        one = letter(reference=f"N-{number}", mail_to=mail_to)
        read = bar_codes(printed(tmp_path, [one]).files[0])
        assert read == [("Code128", f"N-{number}")] * codes

    def test_holds_every_language_with_page_numbers_that_run_on(self, tmp_path):
        both = letter(enclosed=(letter(language="es"),))
        batch = printed(tmp_path, [both, letter(2)])
        pages = words(batch.files[0])
        assert (batch.printed, batch.pages) == (2, 3)
        assert f"{AGENCY} health_effects en" in pages[0] and "N-00001 1 / 2" in pages[0]
        assert f"{AGENCY} health_effects es" in pages[1] and "N-00001 2 / 2" in pages[1]
        with open(batch.merge_list, encoding="utf-8", newline="") as file:
            assert [row["language"] for row in csv.DictReader(file)] == ["en+es", "en"]
