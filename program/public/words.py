"""What each category means and what to do, in plain words, for translation."""

from django.utils.translation import gettext_lazy as _

CATEGORY_NAMES = {
    "LEAD": _("Lead"),
    "GRR": _("Galvanized, must be replaced"),
    "UNKNOWN": _("Not known yet"),
    "NON_LEAD": _("Not lead"),
}
MEANINGS = {
    "LEAD": _("Some part of this pipe is made of lead. Lead can get into the water from it."),
    "GRR": _(
        "Some part of this pipe is galvanized steel that is, or was, or may have been connected "
        "after a lead pipe. It can hold lead from that pipe and release it into the water."
    ),
    "UNKNOWN": _("No good record says what all of this pipe is made of. It may be lead."),
    "NON_LEAD": _(
        "Records or an inspection show that no part of this pipe is lead, or galvanized pipe that "
        "must be replaced. Plumbing inside the building can still contain lead."
    ),
}
# Filter, cold water, boiling, running the tap: U.S. EPA, "Steps You Can Take to Reduce Lead in
# Drinking Water" (page of National Lead Poisoning Prevention Week, kept as of 2021-01-19) [seen].
_FILTER = _(
    "Use a filter certified to reduce lead for drinking, cooking and baby formula. "
    "Change its cartridge on time."
)
_COLD = _(
    "Use only cold water for drinking, cooking and baby formula. Boiling doesn't remove lead."
)
_RUN = _("When the water has stood for hours, let it run before you drink it.")
_TEST = _("Ask us to test your water for lead.")
_PLANNED = _("We replace every such pipe. Ask us when yours is planned.")
_SEE = _("Help us look at the pipe where it enters the building, or send us a photo.")
_PLUMBING = _("If the building is old, ask a plumber about lead solder and old faucets.")
TO_DO = {
    "LEAD": (_FILTER, _COLD, _RUN, _TEST, _PLANNED),
    "GRR": (_FILTER, _COLD, _RUN, _TEST, _PLANNED),
    "UNKNOWN": (_FILTER, _COLD, _SEE, _TEST),
    "NON_LEAD": (_PLUMBING, _COLD),
}
MATERIALS = {
    "LEAD": _("lead"),
    "LEAD_LINED_GALVANIZED": _("galvanized with a lead lining"),
    "GALVANIZED": _("galvanized steel"),
    "COPPER": _("copper"),
    "PLASTIC": _("plastic"),
    "IRON": _("iron"),
    "BRASS": _("brass"),
    "OTHER_NON_LEAD": _("another material, not lead"),
    "NON_LEAD": _("not lead"),
    "UNKNOWN": _("not known"),
    "NONE": _("there is no such part"),
}

HOW_KNOWN = {
    "SEEN": _("We looked at it"),
    "REPLACED": _("A new pipe was put in"),
    "RECORD": _("From a record of the water system"),
    "AGE": _("From the year it was put in"),
    "OTHER": _("From other signs; nobody has looked at it"),
}

KINDS = {"text": _("text"), "date": _("date"), "number": _("number")}


NOT_SHOWN = ("UNKNOWN", "NONE")
SIDE_UNKNOWN = {
    "SYSTEM": _(
        "We know what your side of this pipe is made of: %(material)s. We do not know yet what "
        "our side is made of. It may be lead."
    ),
    "CUSTOMER": _(
        "We know what our side of this pipe is made of: %(material)s. We do not know yet what "
        "your side is made of. It may be lead."
    ),
}


def meaning_of(category: str, system_side: str, customer_side: str) -> str:
    """Return what a line's category means, in agreement with what is known of each side."""
    known = {"CUSTOMER": system_side, "SYSTEM": customer_side}
    for side, other in known.items():
        mine = system_side if side == "SYSTEM" else customer_side
        if category == "UNKNOWN" and mine == "UNKNOWN" and other not in NOT_SHOWN:
            return SIDE_UNKNOWN[side] % {"material": MATERIALS[other]}
    return MEANINGS[category]


def explained(category: str) -> dict:
    """Return a category's name, meaning and what to do, ready for a page."""
    return {
        "code": category,
        "name": CATEGORY_NAMES[category],
        "meaning": MEANINGS[category],
        "to_do": TO_DO[category],
    }
