"""Layouts that staff write: each saving is a new version, and none is ever changed."""

from datetime import datetime

from django.db import IntegrityError, transaction

from program.models import LayoutVersion
from program.submissions.layouts import Layout, LayoutError, parse_layout, shipped_layouts
from services_inventory.refused import Refused

TEXT_MAX = 200_000


def layout_save(
    *, text: str, what_changed: str, by: str, at: datetime, based_on: int | None = None
) -> LayoutVersion:
    """Keep a layout as the next version of its id.

    based_on : the version the text was started from; a later one saved meanwhile refuses it.

    Raises
    ------
    LayoutError: the text is not a layout; with every fault.
    Refused: it is a shipped example's id, nothing differs, or somebody saved meanwhile.
    """
    text = text.replace("\r\n", "\n").strip() + "\n"
    if len(text) > TEXT_MAX:
        raise Refused(f"The text has {len(text):,} characters; {TEXT_MAX:,} are allowed.")
    layout = parse_layout(text, name="The layout")
    _not_shipped(layout)
    try:
        with transaction.atomic():
            return _next_version(layout, text, what_changed.strip(), by, at, based_on)
    except IntegrityError as error:
        raise Refused(_MEANWHILE) from error


def layout_restore(*, version: LayoutVersion, by: str, at: datetime) -> LayoutVersion:
    """Save an earlier version again as the latest one.

    Raises
    ------
    Refused: it is the latest one as it stands.
    """
    said = f"Version {version.version} again."
    return layout_save(text=version.text, what_changed=said, by=by, at=at)


def layout_chosen(ref: str) -> tuple[Layout, str]:
    """Return the layout that a choice names, and in words which one it is.

    ref : id of a shipped layout, "id@version" of an own one, or its id alone for the latest

    Raises
    ------
    Refused: there is no such layout.
    """
    for layout in shipped_layouts():
        if layout.id == ref:
            return layout, layout.name
    layout_id, _, number = ref.partition("@")
    versions = LayoutVersion.objects.filter(layout_id=layout_id).order_by("-version")
    found = (versions.filter(version=number) if number.isdecimal() else versions).first()
    if found is None or (number and not number.isdecimal()):
        raise Refused(
            f"There is no layout '{ref}'. Choose one from the list of layouts, or save it first."
        )
    try:
        return parse_layout(found.text, name=str(found)), str(found)
    except LayoutError as error:
        raise Refused(f"{error} Correct it on its page and save it.") from error


_MEANWHILE = (
    "Somebody saved another version meanwhile. Open the layout again in a second window, bring "
    "your changes together, and save."
)


def _not_shipped(layout: Layout) -> None:
    if layout.id in {shipped.id for shipped in shipped_layouts()}:
        raise Refused(
            f"'{layout.id}' is a layout that ships with the program and stays as it is. Give "
            "yours an id of its own in [layout], for example your agency's short name."
        )


def _next_version(
    layout: Layout, text: str, what_changed: str, by: str, at: datetime, based_on: int | None
) -> LayoutVersion:
    last = LayoutVersion.objects.filter(layout_id=layout.id).order_by("-version").first()
    if last and last.text == text:
        raise Refused(f"Nothing differs from version {last.version}, so none was saved.")
    if last and based_on is not None and last.version != based_on:
        raise Refused(_MEANWHILE)
    return LayoutVersion.objects.create(
        layout_id=layout.id,
        version=last.version + 1 if last else 1,
        name=layout.name,
        text=text,
        what_changed=what_changed[:300],
        saved_by=by,
        saved_at=at,
    )
