"""Public pages: look up an address, read what it means, see the map, take the data."""

from functools import wraps

from django.conf import settings
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils import translation
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from program.clock import today
from program.languages import language_for
from program.public import lookup, records, words
from program.public.kept import COUNTED, ONE_LINE, PLACES, PLANNED, kept
from program.public.known import (
    agency_steps,
    how_known,
    plan_shown,
    published_plan,
    streets_planned,
    year_planned,
)
from program.public.limits import limited
from program.public.progress import LEGEND, ORDER, SHADES, in_all, progress, year_legend
from program.queries.plan_documents import published_document
from services_inventory.domain.addresses import normalize
from services_inventory.domain.addresses.written import with_unit
from services_inventory.queries.counts_now import category_counts_now


def spoken(view):
    """Answer in the language that the address names."""

    @wraps(view)
    def answered(request, language, **kwargs):
        with translation.override(language):
            request.LANGUAGE_CODE = language
            response = view(request, **kwargs)
            response.headers["Content-Language"] = language
            return response

    return answered


def page(request, name: str, context: dict, status: int = 200):
    """Render a public page with what all of them show."""
    shown = {
        "utility": records.utility(),
        "as_of": today(),
        "language": request.LANGUAGE_CODE,
        "other_languages": [one for one in settings.LANGUAGES if one[0] != request.LANGUAGE_CODE],
        **context,
    }
    match = request.resolver_match
    if match:
        shown["here"], shown["here_line"] = match.url_name, match.kwargs.get("location_id")
    return render(request, f"public/{name}.html", shown, status=status)


@require_safe
def choose_language(request):
    """Lead to the pages in the reader's language."""
    wanted = translation.get_language_from_request(request)
    return redirect("public:start", language=language_for(wanted))


@require_safe
@limited("look-up", 60)
@spoken
@cache_control(public=True, no_cache=True)
def start(request):
    """Look up an address: one hit leads to its page, several are listed, none says what to do."""
    text = request.GET.get("q", "").strip()[:200]
    found = lookup.exact(text) if text else []  # one cheap question: what it finds is not kept
    if len(found) == 1:
        return redirect("public:line", language=request.LANGUAGE_CODE, location_id=found[0])
    return _start_page(request, text=text, found=found)


@kept(*COUNTED, *PLACES, *PLANNED, asked_anew=True)
def _start_page(request, text: str, found: list[str]):
    several = [record for record in map(records.one_line, found) if record]
    context = {
        "q": text,
        "several": several,
        "near": lookup.suggestions(text) if text and not several else [],
        "figures": category_counts_now(),
        "replaced": records.replaced(),
        "plan": plan_shown(),
        "names": words.CATEGORY_NAMES,
    }
    return page(request, "start", context)


@require_safe
@limited("line", 120)
@spoken
@kept(*ONE_LINE, asked_anew=True)
def line(request, location_id):
    """Show one line: its category in plain words, what to do, how to say that it is wrong."""
    record = records.one_line(location_id)
    if record is None:
        raise Http404
    known = how_known(record["id"], today())
    context = {
        "record": record,
        "known": {side: (words.HOW_KNOWN[how], day) for side, (how, day) in known.items()},
        "planned_by": year_planned(record["id"]),
        "agency": agency_steps(record["category"], request.LANGUAGE_CODE),
        "place": with_unit(record.get("address") or "", record.get("unit") or "") or location_id,
        "explained": words.explained(record["category"]),
        "meaning": words.meaning_of(
            record["category"], record["system_side"], record["customer_side"]
        ),
        "system_side": words.MATERIALS[record["system_side"]],
        "customer_side": words.MATERIALS[record["customer_side"]],
        "connector": words.MATERIALS[record["connector"]],
    }
    return page(request, "line", context)


@require_safe
@spoken
@kept(*COUNTED, *PLANNED, "neighborhood")  # a full replacement changes a category
def map_page(request):
    """Show how far each neighborhood is, as a map and a table; nearer by, single lines."""
    rows = progress()
    context = {
        "categories": [(code, words.CATEGORY_NAMES[code]) for code in ORDER],
        "rows": rows,
        "all": in_all(rows),
        "shades": SHADES,
        "legend": LEGEND,
        "years": year_legend(rows),
    }
    return page(request, "map", context)


@require_safe
@spoken
@kept()
def categories(request):
    """Explain the four categories."""
    return page(request, "categories", {"all": [words.explained(code) for code in ORDER]})


@require_safe
@limited("streets", 60)
@spoken
@kept(*PLANNED, *PLACES)
def streets(request):
    """Show by street in which years the public plan has its lines replaced."""
    plan = published_plan()
    if plan is None or not records.utility().publish_addresses:
        raise Http404
    q = request.GET.get("q", "").strip()[:80]
    begins = normalize(f"1 {q}").street_key if q else ""
    rows, after = streets_planned(begins or q.upper(), request.GET.get("after", "")[:120])
    return page(request, "streets", {"rows": rows, "after": after, "q": q, "plan": plan})


@require_safe
@spoken
@kept(*COUNTED, "document")
def download(request):
    """Offer the files and say what their columns mean."""
    shown = records.columns(records.utility().publish_addresses)
    about = {"columns": shown, "figures": category_counts_now(), "plan": published_document()}
    return page(request, "download", about)


def nothing_here(request):
    """Answer a public address that leads nowhere, such as an old link to a line."""
    spoken_in = language_for(request.path.removeprefix("/public/").partition("/")[0])
    with translation.override(spoken_in):
        request.LANGUAGE_CODE = spoken_in
        request.resolver_match = None
        context = {"here": "start", "here_line": None}
        return page(request, "nothing", context, status=404)
