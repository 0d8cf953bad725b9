"""What every page knows: the utility, the day, and where this user may go."""

from functools import partial

from django.urls import NoReverseMatch, reverse

from .clock import today
from .roles import role_of
from .typed import typed
from .utility import the_utility

_PAYMENTS = ("replacements.do_work", "replacements.pay_contractors")
# label, url name, permission that opens it (of several, any; empty: any signed-in user), path
# prefix it owns
PLACES = (
    ("Board", "board", "", "/"),
    ("Inventory", "line_list", "services_inventory.view_serviceline", "/inventory/lines/"),
    (
        "Neighborhoods",
        "neighborhood_list",
        "services_inventory.view_neighborhood",
        "/inventory/neighborhoods/",
    ),
    ("Intake", "batch_list", "services_inventory.intake", "/inventory/intake/"),
    ("Plan", "plan_list", "program.view_boards", "/program/plan/"),
    ("Work orders", "work_order_list", "", "/work/orders/"),
    ("Tools", "component_list", "replacements.do_work", "/work/tools/"),
    ("Papers", "readiness_list", "", "/work/contractors/"),
    ("Packages", "package_list", "", "/work/packages/"),
    ("In the truck", "phone", "replacements.do_work", "/work/phone/"),
    ("Hand in many", "drop_list", "replacements.do_work", "/work/drops/"),
    ("Payments", "payment_list", _PAYMENTS, "/work/payments/"),
    ("Devices", "device_list", "replacements.do_work", "/work/devices/"),
    ("What pulls taught", "learning_list", "replacements.view_all_work", "/work/learning/"),
    ("Review", "review_queue", "replacements.review_work", "/work/review/"),
    ("Rate and pool", "rate", "program.view_boards", "/program/rate/"),
    ("Deadlines", "deadline_list", "program.view_boards", "/program/deadlines/"),
    ("Notices", "notice_list", "program.send_notices", "/program/notices/"),
    ("Inquiries", "inquiry_list", "program.answer_inquiry", "/program/inquiries/"),
    ("Sampling tiers", "tier_list", "program.view_boards", "/program/tiers/"),
    ("Submissions", "submission_list", "program.view_boards", "/program/submissions/"),
    ("Rule values", "rule_values", "program.view_boards", "/program/rule/"),
    ("People", "people", "program.view_people", "/program/people/"),
    ("The utility", "utility", "program.view_boards", "/program/utility/"),
)


def _places(request) -> list[dict]:
    places = []
    for label, name, permission, prefix in PLACES:
        asked = (permission,) if isinstance(permission, str) else permission
        if permission and not any(map(request.user.has_perm, asked)):
            continue
        try:
            address = reverse(name)
        except NoReverseMatch:
            continue
        path = request.path
        here = path == prefix if prefix == "/" else path.startswith(prefix)
        places.append({"label": label, "address": address, "here": here})
    return places


def page(request) -> dict:
    """Return the utility, today, the scenario's day if any, the role and the places to go."""
    utility = the_utility()
    standing = utility.clock_stands_at if utility else None
    signed_in = hasattr(request, "user") and request.user.is_authenticated
    return {
        "utility": utility,
        "today": standing or today(),
        "scenario_day": standing,
        "role": role_of(request.user) if signed_in else "",
        "places": _places(request) if signed_in else [],
        "typed": partial(typed, request),
    }
