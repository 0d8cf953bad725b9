"""The five rooms of the side bar, and the places inside each: one table, read for every page."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse


@dataclass(frozen=True)
class Place:
    """One tab of a room.

    Parameters
    ----------
    url : the name of its address
    prefix : the path of the pages that belong to it; of several the longest counts
    permissions : any of them opens it; none: whoever is signed in
    """

    label: str
    url: str
    prefix: str
    permissions: tuple[str, ...] = ()

    def open_to(self, user) -> bool:
        """Tell whether a user may go there."""
        return not self.permissions or any(map(user.has_perm, self.permissions))

    def owns(self, path: str) -> bool:
        """Tell whether a page lies within; the board is one page only."""
        return path == self.prefix if self.prefix == "/" else path.startswith(self.prefix)

    @property
    def address(self) -> str:
        """Where it begins; empty where this installation has no such page."""
        try:
            return reverse(self.url)
        except NoReverseMatch:
            return ""


_LINES = ("services_inventory.view_serviceline",)
_BOARDS = ("program.view_boards",)
_DO = ("replacements.do_work",)
_PAYMENTS = (*_DO, "replacements.pay_contractors")
ROOMS = {
    "Today": (Place("Board", "board", "/"),),
    "Inventory": (
        Place("Lines", "line_list", "/inventory/lines/", _LINES),
        Place("Map", "line_map", "/inventory/map/", _LINES),
        Place(
            "Neighborhoods", "neighborhood_list", "/inventory/neighborhoods/",
            ("services_inventory.view_neighborhood",),
        ),
        Place("Intake", "batch_list", "/inventory/intake/", ("services_inventory.intake",)),
        Place("Conflicts", "conflict_list", "/inventory/conflicts/", _LINES),
        Place("Set aside", "set_aside", "/inventory/conflicts/set-aside/", _LINES),
        Place("Unplaced", "line_unplaced", "/inventory/unplaced/", _LINES),
        Place("Counts", "counts", "/inventory/counts/", _LINES),
        Place(
            "Validation", "validation_list", "/inventory/validation/",
            ("services_inventory.run_validation",),
        ),
    ),
    "Plan": (
        Place("Plans", "plan_list", "/program/plan/", _BOARDS),
        Place("Rate and pool", "rate", "/program/rate/", _BOARDS),
        Place(
            "Pull forces", "learning_list", "/work/learning/",
            ("replacements.view_all_work",),
        ),
    ),
    "Work": (
        Place("Work orders", "work_order_list", "/work/orders/"),
        Place("Review", "review_queue", "/work/review/", ("replacements.review_work",)),
        Place("In the truck", "phone", "/work/phone/", _DO),
        Place("Hand in many", "drop_list", "/work/drops/", _DO),
        Place("Tools", "component_list", "/work/tools/", _DO),
        Place("Contractors", "readiness_list", "/work/contractors/"),
        Place("Packages", "package_list", "/work/packages/"),
        Place("Payments", "payment_list", "/work/payments/", _PAYMENTS),
        Place("Devices", "device_list", "/work/devices/", _DO),
    ),
    "Proof": (
        Place("Deadlines", "deadline_list", "/program/deadlines/", _BOARDS),
        Place("Submissions", "submission_list", "/program/submissions/", _BOARDS),
        Place("Notices", "notice_list", "/program/notices/", ("program.send_notices",)),
        Place("Inquiries", "inquiry_list", "/program/inquiries/", ("program.answer_inquiry",)),
        Place("Tap samples", "sampling", "/program/sampling/", _BOARDS),
        Place("Outreach", "outreach", "/program/outreach/", _BOARDS),
        Place("Consumer report", "yearly_report", "/program/consumer-report/", _BOARDS),
        Place("Rule values", "rule_values", "/program/rule/", _BOARDS),
    ),
}  # fmt: skip
# What is set up once stands at the foot of the side bar.
SET_UP = (
    Place("The first hour", "first_hour", "/program/first-hour/", ("services_inventory.intake",)),
    Place("The utility", "utility", "/program/utility/", _BOARDS),
    Place("People", "people", "/program/people/", ("program.view_people",)),
)

WITH_KEPT_VIEWS = (
    "line_list", "line_map", "neighborhood_list", "match_list", "work_order_list", "inquiry_list",
    "rule_values",
)  # fmt: skip


def keeps_views(path: str) -> bool:
    """Tell whether a path is that of a list whose filters are kept by name."""
    return path in map(reverse, WITH_KEPT_VIEWS)


def rooms_for(user, path: str) -> dict:
    """Return the rooms, the tabs of the room of a page, and what is set up once, for a user.

    Each place: {label, address, here}; a room's address is that of its first open place.
    """
    here = _place_of(path)
    rooms, tabs = [], []
    for name, places in ROOMS.items():
        shown = _shown(places, user, here)
        if not shown:
            continue
        inside = here in places
        rooms.append({"label": name, "address": shown[0]["address"], "here": inside})
        if inside and len(shown) > 1:
            tabs = shown
    return {"rooms": rooms, "tabs": tabs, "set_up": _shown(SET_UP, user, here)}


def pages_for(user) -> list[tuple[str, Place]]:
    """Return (room, place) of all that a user may go to."""
    every = {**ROOMS, "Set-up": SET_UP}
    return [(room, place) for room in every for place in every[room] if place.open_to(user)]


def _place_of(path: str) -> Place | None:
    owners = [place for places in (*ROOMS.values(), SET_UP) for place in places if place.owns(path)]
    return max(owners, key=lambda place: len(place.prefix), default=None)


def _shown(places: tuple[Place, ...], user, here: Place | None) -> list[dict]:
    return [
        {"label": place.label, "address": place.address, "here": place is here}
        for place in places
        if place.open_to(user) and place.address
    ]
