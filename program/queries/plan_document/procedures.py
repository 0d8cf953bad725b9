"""How work is done, people are told and doors are opened: what the record knows of it."""

from collections import Counter
from collections.abc import Iterable

from django.db.models import Count, Q

from program.models import Inquiry
from program.notices.printing import LANGUAGES
from program.notices.templates_text import KIND_LABELS, NoticeKind, empty_slots
from program.plan_document.elements import Known
from program.queries.access import access_standings
from program.queries.open_questions import many
from program.queries.plan_document.case import ADMINISTRATOR, COMPLIANCE, ONE_YEAR, Case
from replacements.domain.cautions import all_cautions
from replacements.domain.methods import Method
from replacements.models import ContactAttempt, Replacement
from services_inventory.domain.allowed import shown
from services_inventory.domain.days import day_told
from services_inventory.domain.regulation import Value

_BEFORE_WORK = (
    "PARTIAL_NOTICE_DAYS", "RETURN_TO_SERVICE_NEEDS", "FILTER_CARTRIDGE_MONTHS",
    "FOLLOW_UP_SAMPLE_FROM_MONTHS", "FOLLOW_UP_SAMPLE_TO_MONTHS", "FOLLOW_UP_RESULT_BUSINESS_DAYS",
)  # fmt: skip
_ACCESS = (
    "CONSENT_MIN_ATTEMPTS", "CONSENT_MIN_METHODS", "CONSENT_MIN_DAYS_BETWEEN",
    "OWNER_CHANGE_OFFER_MONTHS", "OWNER_CHANGE_EFFORT_MONTHS", "CUSTOMER_INITIATED_DAYS",
    "CUSTOMER_INITIATED_LIMIT_DAYS",
)  # fmt: skip


def procedure(case: Case) -> Known:
    """The methods used so far and the cautions that stand on every job sheet."""
    known = Known()
    used = dict(
        Replacement.objects.standing(case.as_of, case.known_at)
        .order_by()
        .values_list("completion__method_used")
        .annotate(n=Count("id"))
    )
    known.show(
        f"Accepted replacements by method, to {day_told(case.as_of)}",
        ("Method", "Replacements"),
        [(_method(code), f"{n:,}") for code, n in sorted(used.items(), key=lambda one: -one[1])],
    )
    known.say(
        "Before a crew may pull, the program checks the tool string, the strength of the new pipe, "
        "the force estimate, the safe start and the owner's consent; a completion record counts "
        "only after the utility has accepted it.",
        "Cautions on every job sheet: " + " ".join(map(str, all_cautions())),
    )
    return known


def _method(code: str | None) -> str:
    return Method(code).label if code in Method.__members__ else (code or "not stated")


def before_work(case: Case) -> Known:
    """The clocks around the work, notices so far, and wording that is still empty."""
    known = Known()
    _values(case, known, "What the rule asks around the work", _BEFORE_WORK)
    kinds = [NoticeKind.REPLACEMENT, NoticeKind.DISTURBANCE]
    _notices(case, known, kinds)
    for language, name in LANGUAGES.items():
        empty = empty_slots(case.wording, [NoticeKind.REPLACEMENT], [language])
        if empty:
            slots = ", ".join(f"“{one.block.name}”" for one in empty)
            wording = f"Wording of the replacement notice, {name}: {slots} (page Notices, Wording)"
            known.lack(wording, COMPLIANCE, blocks=False)
    return known


def flushing(case: Case) -> Known:
    """What letters say about flushing; the procedure itself is staff's."""
    known = Known()
    filled = [text for text in case.wording.filled if text.block == "flushing" and text.text]
    for text in filled:
        known.say(
            f"Letters say ({LANGUAGES.get(text.language, text.language)}; taken from "
            f"{text.source or 'a source that is not named'}): {text.text}"
        )
    if not filled:
        known.say(
            "Letters refer to written instructions that the crew leaves with the household, and to "
            "the utility's telephone."
        )
    _values(case, known, "What a household must have before the water is used", _BEFORE_WORK[1:2])
    return known


def communication(case: Case) -> Known:
    """Notices and inquiries of the last year, and where the public can look."""
    known, since = Known(), case.as_of - ONE_YEAR
    _notices(case, known, NoticeKind)
    asked = Inquiry.objects.filter(received_on__range=(since, case.as_of)).aggregate(
        all=Count("id"), answered=Count("id", filter=Q(answered_on__lte=case.as_of))
    )
    known.say(
        f"{many(asked['all'], 'inquiry', 'inquiries')} from customers in the year to "
        f"{day_told(case.as_of)}, "
        f"{asked['answered']:,} answered. Notices are printed in "
        f"{' and '.join(LANGUAGES.values())}.",
    )
    served = case.value("PUBLIC_ONLINE_OVER_SERVED")
    known.use("PUBLIC_ONLINE_OVER_SERVED", "DISPUTE_RESPONSE_DAYS")
    site = case.utility.website
    known.say(
        f"A system serving more than {served.value:,} people puts the inventory and the plan "
        f"online; this one serves {case.utility.population:,}."
        + (f" Public pages: {site}." if site else "")
    )
    if not site:
        known.lack("The utility's web address (page Notices, Wording, Sender)", COMPLIANCE)
    if not (case.utility.phone and case.utility.contact):
        known.lack("The utility's telephone and contact (page Users and utility)", ADMINISTRATOR)
    return known


def access(case: Case) -> Known:
    """The effort asked for, the attempts and answers on record, and the lines left for now."""
    known = Known()
    _values(case, known, "Effort and clocks that the program works by", _ACCESS)
    methods, answers, blocked = Counter(), Counter(), 0
    for row in access_standings(case.as_of, case.known_at, case.rules):
        methods.update(attempt.method for attempt in row.attempts)
        answers.update(answer.answer for answer in row.answers[-1:])
        blocked += row.blocked
    labels = dict(ContactAttempt.Method.choices)
    known.show(
        "Attempts to reach owners and occupants",
        ("Method", "Attempts"),
        [(labels.get(method, method), f"{n:,}") for method, n in methods.most_common()],
    )
    known.say(
        f"Last answers on record: {answers['GIVEN']:,} given, {answers['REFUSED']:,} refused, "
        f"{answers['REVOKED']:,} taken back. "
        f"{many(blocked, 'line is', 'lines are')} left for now: refused, or tried as the rule asks "
        "without an answer. Whether a line without access is under the system's control is decided "
        "by State or local law or the tariff."
    )
    return known


def _values(case: Case, known: Known, caption: str, ids: tuple[str, ...]) -> None:
    rows = [case.value(rule_id) for rule_id in ids]
    known.show(
        caption,
        ("What", "Value", "Paragraph", "Mark"),
        [(v.summary, _in_words(v), v.citation, v.mark) for v in rows],
    )
    known.use(*ids)


def _in_words(value: Value) -> str:
    if isinstance(value.value, tuple):
        return ", ".join(str(part).replace("_", " ").lower() for part in value.value)
    return f"{shown(value.value)} {value.unit}" if value.value is not None else "none set"


def _notices(case: Case, known: Known, kinds: Iterable[NoticeKind]) -> None:
    known.show(
        f"Notices due in the year to {day_told(case.as_of)}",
        ("Notice", "Due", "Delivered"),
        [
            (KIND_LABELS[kind], *(f"{n:,}" for n in case.notices[kind]))
            for kind in kinds
            if kind in case.notices
        ],
    )
