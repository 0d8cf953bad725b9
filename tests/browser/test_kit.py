"""The reviewer's kit, opened from a disk in a browser whose network is off."""

import hashlib
import json
import random
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

from program.submissions.archive import zip_stream
from program.submissions.digest import manifest_bytes
from program.submissions.filing import write_submission
from program.submissions.kit import KIT_NAME, reviewers_kit
from program.submissions.layouts import parse_layout, shipped_layouts
from program.submissions.lists import Lists
from tests.program.submissions.factories import bases, change, facts, line, town

STANDARD, *OTHERS = shipped_layouts()
OTHERS.append(
    parse_layout(
        '[layout]\nid = "split"\nname = "Split"\n[sheets.lines.columns]\nlocation_id = "Id"\n'
        'house_number = "No."\nstreet = "Street"\nstate = "State"\ncategory = "Status"\n'
        'connector = "Gooseneck"\n[sheets.lines.constants]\nstate = "ZZ"\n'
    )
)


@dataclass
class Kit:
    """The page, and what it asked of anybody."""

    page: object
    asked: list

    def check(self, *picked: Path) -> str:
        """Pick files, wait for the end, and return the verdict."""
        self.page.set_input_files("#files", [])
        self.page.set_input_files("#files", [str(path) for path in picked])
        self.page.wait_for_selector("#results:not([hidden]), #trouble:not(:empty)")
        return self.page.inner_text("#verdict")

    def failing(self) -> dict[str, tuple[str, str]]:
        """Return {check: (said, found)} of those that fail."""
        rows = self.page.query_selector_all("#checks tr")
        cells = [[cell.inner_text() for cell in row.query_selector_all("td")] for row in rows]
        return {what: (said, found) for word, what, said, found in cells if word == "FAILS"}


@pytest.fixture
def kit(chromium, tmp_path):
    (tmp_path / KIT_NAME).write_bytes(reviewers_kit())
    context = chromium.new_context(offline=True, viewport={"width": 1280, "height": 900})
    page, asked = context.new_page(), []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: asked.append(str(error)))
    page.goto((tmp_path / KIT_NAME).as_uri())
    yield Kit(page, asked)
    context.close()


def filed(folder: Path, rows=None, layout=STANDARD, **given):
    """File a submission into a folder; return the filing."""
    lines, replacements, refusals, partials, changes = rows = rows or town()
    lists = Lists(
        lines=lambda: iter(lines),
        replacements=replacements,
        refusals=refusals,
        partials=partials,
        changes=changes,
        non_lead_bases=bases(lines),
    )
    return write_submission(folder, facts(*rows, **given), lists, layout=layout)


def zipped(folder: Path) -> Path:
    """Make the archive as the program sends it."""
    archive = folder.with_suffix(".zip")
    texts = [("certification-2030-revision-1.pdf", b"%PDF-"), (KIT_NAME, reviewers_kit())]
    archive.write_bytes(b"".join(zip_stream(sorted(folder.iterdir()), texts)))
    return archive


def altered(path: Path, old: str, new: str) -> None:
    content = path.read_bytes()
    assert old.encode() in content
    path.chmod(0o644)
    path.write_bytes(content.replace(old.encode(), new.encode(), 1))


def resealed(folder: Path) -> None:
    """Write a new manifest that fits what was altered, as a forger would."""
    [path] = folder.glob("*-manifest.json")
    content = json.loads(path.read_text())
    for entry in content["files"]:
        entry["sha256"] = hashlib.sha256((folder / entry["name"]).read_bytes()).hexdigest()
    path.write_bytes(manifest_bytes(content))


def test_an_intact_archive_holds_in_every_check_and_asks_nothing_of_a_network(kit, tmp_path):
    filing = filed(tmp_path / "one")
    verdict = kit.check(zipped(tmp_path / "one"))
    assert verdict.startswith("All ") and verdict.endswith(" checks hold.")
    assert int(verdict.split()[1]) > len(filing.manifest["files"]) + len(filing.audit.checks) / 2
    assert kit.page.inner_text("#digest") == filing.digest
    assert [url for url in kit.asked if not url.startswith("file:")] == []
    assert "59 of 60 lines have a position" in kit.page.inner_text("#points")


@pytest.mark.parametrize("layout", OTHERS, ids=lambda layout: layout.id)
def test_another_agencys_columns_and_words_are_counted_as_well(kit, tmp_path, layout):
    filed(tmp_path / "one", layout=layout)
    assert kit.check(zipped(tmp_path / "one")).startswith("All ")


def test_files_unpacked_by_hand_or_packed_tighter_are_read_too(kit, tmp_path):
    filed(tmp_path / "one")
    assert kit.check(*(tmp_path / "one").iterdir()).startswith("All ")
    tight = tmp_path / "tight.zip"
    with zipfile.ZipFile(tight, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in (tmp_path / "one").iterdir():
            archive.write(path, f"inside/{path.name}")
    assert kit.check(tight).startswith("All ")


def test_a_cell_altered_is_found_by_the_hash_and_by_the_count(kit, tmp_path):
    filed(tmp_path / "one")
    [lines] = (tmp_path / "one").glob("*-lines.csv")
    altered(lines, ",UNKNOWN,", ",NON_LEAD,")
    kit.check(zipped(tmp_path / "one"))
    failing = kit.failing()
    assert f"{lines.name} is the file that was frozen" in failing
    said, found = failing["A3 Lead status unknown"]
    assert int(found) == int(said) - 1
    assert {what[:2] for what in failing if what[0] == "A"} == {"A3", "A4"}


def test_a_forger_who_writes_a_new_manifest_too_is_found_by_counts_and_by_the_signed_digest(
    kit, tmp_path
):
    filing = filed(tmp_path / "one")
    [lines] = (tmp_path / "one").glob("*-lines.csv")
    altered(lines, ",UNKNOWN,", ",NON_LEAD,")
    resealed(tmp_path / "one")
    kit.check(zipped(tmp_path / "one"))
    assert "A3 Lead status unknown" in kit.failing()
    assert f"{lines.name} has one hash in summary and manifest" in kit.failing()
    kit.page.fill("#signed", filing.digest)
    assert kit.page.inner_text("#compared") == "It is another one."


def test_a_list_a_rate_and_a_file_too_many_or_too_few_are_found(kit, tmp_path):
    filed(tmp_path / "one")
    [document] = [p for p in (tmp_path / "one").glob("*.json") if "manifest" not in p.name]
    altered(document, '"counted": "YES"', '"counted": "NO"')
    (tmp_path / "one" / "another.xlsx").write_bytes(b"")
    [package] = (tmp_path / "one").glob("*.gpkg")
    package.unlink()
    kit.check(zipped(tmp_path / "one"))
    failing = kit.failing()
    assert failing[f"{package.name} is the file that was frozen"][1] == "missing"
    assert "another.xlsx belongs to the submission" in failing
    assert any(what.startswith(("A8 to date", "A9 to date")) for what in failing)
    assert any(what.startswith("Replaced in program year") for what in failing)
    assert any(what.startswith("B11 ") for what in failing)


def test_the_chain_is_checked_between_archives_picked_together(kit, tmp_path):
    first = filed(tmp_path / "one")
    filed(tmp_path / "two", revision=2, previous_digest=first.digest, amended_because="A line")
    one, two = zipped(tmp_path / "one"), zipped(tmp_path / "two")
    assert kit.check(two).startswith("All ")
    assert "pick its ZIP as well" in kit.page.inner_text("#checks")
    assert kit.check(one, two).startswith("All ")
    kit.page.select_option("#which", label=kit.page.inner_text("#which option:last-child"))
    assert "It is chained to program year 3, revision 1" in kit.page.inner_text("#checks")
    altered(next((tmp_path / "one").glob("*-audit.txt")), "agrees", "agreed")
    resealed(tmp_path / "one")
    kit.check(zipped(tmp_path / "one"), two)
    every = [option.inner_text() for option in kit.page.query_selector_all("#which option")]
    for name in every:
        kit.page.select_option("#which", label=name)
        if "revision 2" in name:
            assert any("It is chained to an earlier one" in what for what in kit.failing())


def test_any_line_opens_with_its_evidence_from_the_list_and_from_the_map(kit, tmp_path):
    odd = line(7, address='12 "Quoted", Street', reason="=1+1", document="D-7; ñ")
    lines, *others = town()
    changed = (*others[:-1], [*others[-1], change(7, reason="Seen by <b>two</b>")])
    filed(tmp_path / "one", ([one for one in lines if one.location_id != "L00007"] + [odd],
                             *changed))  # fmt: skip
    kit.check(zipped(tmp_path / "one"))
    kit.page.fill("#sought", "quoted")
    kit.page.click("#finding button")
    kit.page.click("#found button")
    kit.page.wait_for_selector("#line h3")
    told = kit.page.inner_text("#line")
    assert '12 "Quoted", Street' in told and "D-7; ñ" in told
    assert "Seen by <b>two</b>" in told and "Changes of category" in told
    kit.page.evaluate("document.querySelector('#line').replaceChildren()")
    kit.page.focus("#map")
    for key in ("+", "ArrowUp", "-", "ArrowDown"):
        kit.page.keyboard.press(key)
    kit.page.click("#whole")  # the town is laid out on a diagonal, so a line lies at its middle
    box = kit.page.query_selector("#map").bounding_box()
    kit.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    kit.page.wait_for_selector("#line h3")


def test_what_is_no_submission_is_refused_in_a_sentence(kit, tmp_path):
    (tmp_path / "photo.zip").write_bytes(b"no zip at all")
    kit.check(tmp_path / "photo.zip")
    assert "photo.zip is not a whole ZIP" in kit.page.inner_text("#trouble")
    (tmp_path / "note.txt").write_text("x")
    kit.check(tmp_path / "note.txt")
    assert "No submission was found" in kit.page.inner_text("#trouble")


def test_its_own_hash_is_the_standards(kit):
    """FIPS 180-4 by the standard library, at every length around a block and over chunks."""
    seeded = random.Random(19)
    cases = [seeded.randbytes(n) for n in (0, 1, 3, 55, 56, 57, 63, 64, 65, 119, 120, 128, 1000)]
    cases.append(seeded.randbytes(300_000))
    hashed = kit.page.evaluate(
        """(cases) => cases.map((bytes) => {
          const hash = new reading.Sha256();
          for (let at = 0; at < bytes.length; at += 7001) {
            hash.update(Uint8Array.from(bytes.slice(at, at + 7001)));
          }
          return hash.hex();
        })""",
        [list(case) for case in cases],
    )
    assert hashed == [hashlib.sha256(case).hexdigest() for case in cases]
