"""The utility's dictionary: what is kept, what is asked, and the words that are known anyhow."""

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from django.db.models import Q

from services_inventory.domain.reference import rows_of

from ..domain.categories import Category
from ..domain.evidence import Basis
from ..domain.materials import Connector, Material
from ..domain.plumbing import Plumbing, Treatment
from ..intake.checking.own import YEARS, OwnWords, word_key
from ..models import Batch, OwnWord
from ..models.lines import LineUse
from ..models.places import PremiseKind

_CENTURY = (
    ("00", "19xx, all of them: 05 is 1905"),
    ("30", "19xx from 30 on, 20xx below: 31 is 1931, 29 is 2029"),
    ("50", "19xx from 50 on, 20xx below: 51 is 1951, 49 is 2049"),
)
_NO_OR_UNKNOWN = (("NO", "no"), ("UNKNOWN", "not known"))
# What each kind of column can hold, in words; and the table with the words that are known.
CHOICES: Mapping[str, tuple[tuple[str, str], ...]] = MappingProxyType(
    {
        "MATERIAL": tuple((one.value, one.label) for one in Material),
        "CONNECTOR": tuple((one.value, one.label) for one in Connector),
        "BASIS": tuple((one.value, one.label) for one in Basis if one != Basis.REPLACEMENT),
        "LINE_USE": tuple(LineUse.choices),
        "PREMISE_KIND": tuple(choice for choice in PremiseKind.choices if choice[0]),
        "PLUMBING": tuple((one.value, one.label) for one in Plumbing),
        "TREATMENT": tuple((one.value, one.label) for one in Treatment),
        "LEAD_CONN": tuple((one.value, one.label) for one in Connector),
        "HAS_CONN": tuple((one.value, one.label) for one in Connector),
        "WAS_LEAD": (("LEAD", "yes, it was lead"), *_NO_OR_UNKNOWN),
        "SOLDER": (("YES", "yes"), *_NO_OR_UNKNOWN),
        "CATEGORY": tuple((one.value, one.label) for one in Category),
        **dict.fromkeys(YEARS, _CENTURY),
    }
)
KINDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "MATERIAL": ("material", "material_words.csv"),
        "CONNECTOR": ("connector", "connector_words.csv"),
        "BASIS": ("how it is known", "basis_words.csv"),
        "LINE_USE": ("use of the line", "line_use_words.csv"),
        "PREMISE_KIND": ("kind of premise", "premise_kind_words.csv"),
        "PLUMBING": ("plumbing inside", "plumbing_words.csv"),
        "TREATMENT": ("treatment device", "treatment_words.csv"),
        "LEAD_CONN": ("yes or no", "yes_no_words.csv"),
        "HAS_CONN": ("connector: yes or no", ""),
        "WAS_LEAD": ("ever lead before: yes or no", ""),
        "SOLDER": ("lead solder: yes or no", ""),
        "CATEGORY": ("the file's own category", "category_words.csv"),
        **dict.fromkeys(YEARS, ("years", "")),
    }
)
HEADER = (
    "List", "Kind", "Column", "Word", "Stands for", "Why a person decides", "Source", "Said by",
    "Said on", "Reason", "Taken back by", "Taken back on", "Why it was taken back",
)  # fmt: skip


def own_words(header: Iterable[str]) -> OwnWords:
    """Return what people said that words in columns with these headings stand for."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for heading, kind, word, code in _standing(header).values_list(
        "heading_key", "kind", "word_key", "code"
    ):
        found.setdefault((heading, kind), {})[word] = code
    return found


def own_words_used(header: Iterable[str]) -> list[int]:
    """Return the ids of the words that a file with these headings was read by."""
    return list(_standing(header).order_by("id").values_list("id", flat=True))


def _standing(header: Iterable[str]):
    keys = {word_key(heading) for heading in header}
    return OwnWord.objects.filter(withdrawn_at=None, heading_key__in=keys)


def words_asked(batch: Batch) -> list[dict]:
    """Return the words of a checked file that nobody has told of, each with its choices.

    What the same word was said to stand for in another column is the first guess. Of years nothing
    is guessed: a pipe of the 1920s read as one of the 2020s would count as laid after the ban.
    """
    elsewhere = {
        (kind, word): (code, dict(CHOICES[kind])[code])
        for kind, word, code in OwnWord.objects.filter(withdrawn_at=None).values_list(
            "kind", "word_key", "code"
        )
    }
    return [
        one | {
            "place": place,
            "what": KINDS[one["kind"]][0],
            "choices": CHOICES[one["kind"]],
            "guess": None if one["kind"] in YEARS
            else elsewhere.get((one["kind"], word_key(one["word"])))
            or guessed(one["kind"], one["word"]),
        }
        for place, one in enumerate(batch.result.get("words", ()))
        if one["kind"] in CHOICES
    ]  # fmt: skip


def guessed(kind: str, word: str) -> tuple[str, str] | None:
    """Return the choice that a word resembles most, or None: a hint, never an answer.

    Examples
    --------
    >>> guessed("MATERIAL", "L"), guessed("BASIS", "TAP"), guessed("MATERIAL", "zzz")
    (('LEAD', 'lead'), ('RECORD_TAP_CARD', 'tap card'), None)
    >>> guessed("MATERIAL", "LD")  # and no LDPE
    ('LEAD', 'lead')
    """
    from rapidfuzz import fuzz, process

    key, labels = word_key(word), dict(CHOICES[kind])
    own = [(label, code) for code, label in CHOICES[kind]]
    known = [(text.casefold(), code) for text, code in _known(kind) if code in labels]
    words = dict(known)
    for resembles, texts in ((_begins, own), (_shortens, own), (_begins, known)):
        if found := [code for text, code in texts if resembles(key, text)]:
            return found[0], labels[found[0]]
    near = process.extractOne(key, list(words), scorer=fuzz.ratio, score_cutoff=75)
    return (words[near[0]], labels[words[near[0]]]) if near else None


def _begins(key: str, text: str) -> bool:
    return text.startswith(key)


def _shortens(key: str, text: str) -> bool:
    """Tell whether a word has the first and other letters of a longer one: ld of lead."""
    letters = iter(text.partition(" ")[0])
    return key[:1] == text[:1] and key.isalpha() and all(letter in letters for letter in key)


def _table(kind: str) -> tuple[dict[str, str], ...]:
    name = KINDS[kind][1]
    return rows_of("services_inventory", name) if name else ()


def _known(kind: str) -> list[tuple[str, str]]:
    return [(row["words"], row["code"]) for row in _table(kind) if row["code"]]


def own_words_found(text: str = "") -> list[OwnWord]:
    """Return the dictionary, what stands first; with a word or heading if given."""
    found = OwnWord.objects.all()
    if text:
        found = found.filter(Q(word__icontains=text) | Q(heading__icontains=text))
    return _told(found.order_by("heading_key", "word_key", "-id"))


def own_words_of(batch: Batch) -> list[OwnWord]:
    """Return the words that a file was read by, what was taken back since first."""
    found = OwnWord.objects.filter(pk__in=batch.result.get("own_words", ()))
    return _told(found.order_by("heading_key", "word_key"))[::-1]


def _told(words: Iterable[OwnWord]) -> list[OwnWord]:
    found = list(words)
    for one in found:
        one.means = dict(CHOICES[one.kind])[one.code]
        one.what = KINDS[one.kind][0]
    return sorted(found, key=lambda one: one.withdrawn_at is not None)


def known_words(text: str = "", kind: str = "") -> list[dict]:
    """Return the words that are known anyhow: what each stands for, or why a person decides."""
    key = word_key(text)
    return [
        {
            "what": what,
            "word": row["words"],
            "means": dict(CHOICES[name]).get(row["code"], row["code"]),
            "why": row["why_a_person_decides"],
            "source": row["source"],
        }
        for name, (what, file_name) in KINDS.items()
        if file_name and kind in ("", name)
        for row in _table(name)
        if key in row["words"].casefold()
    ]


def word_rows() -> Iterator[tuple]:
    """Yield both lists as rows below `HEADER`: the utility's own, then the known words."""
    for one in own_words_found():
        yield (
            "own", one.what, one.heading, one.word, one.means, "", one.file_name, one.said_by,
            one.said_at.date(), one.reason, one.withdrawn_by,
            one.withdrawn_at and one.withdrawn_at.date(), one.withdrawn_reason,
        )  # fmt: skip
    for row in known_words():
        yield (
            "known", row["what"], "", row["word"], row["means"], row["why"], row["source"],
            *("",) * 6,
        )  # fmt: skip
