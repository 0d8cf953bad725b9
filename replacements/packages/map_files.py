"""A package's orders as places: GeoJSON for maps, GPX for whatever finds the way.

Sources: RFC 7946 (GeoJSON: longitude before latitude, WGS 84, no `crs` member); the GPX 1.1 schema
(waypoints with name, comment, description and type in that order).
"""

from collections.abc import Iterable
from datetime import UTC, datetime
from xml.etree import ElementTree

from ..models import WorkOrder
from .given import given_of

GPX = "http://www.topografix.com/GPX/1/1"
_DECIMALS = 6


def geojson_of(orders: Iterable[WorkOrder], name: str) -> dict:
    """Return a FeatureCollection; an order without a position has a null geometry."""
    features = [_feature(order) for order in orders]
    return {"type": "FeatureCollection", "name": name, "features": features}


def _feature(order: WorkOrder) -> dict:
    place, given = order.line.premise, given_of(order)
    known = place.latitude is not None and place.longitude is not None
    point = {
        "type": "Point",
        "coordinates": [round(place.longitude, _DECIMALS), round(place.latitude, _DECIMALS)],
    } if known else None  # fmt: skip
    return {
        "type": "Feature",
        "id": order.pk,
        "geometry": point,
        "properties": {
            "number": order.number,
            "address": place.address,
            "city": place.city,
            "state": order.state,
            "old_pipe": given["old_pipe"],
            "new_pipe": given["new_pipe"],
            "length_ft": order.length_ft,
            "cover_ft": order.cover_ft,
            "due_on": order.due_on.isoformat() if order.due_on else None,
        },
    }


def gpx_of(orders: Iterable[WorkOrder], name: str, at: datetime) -> bytes:
    """Return a GPX 1.1 document with a waypoint for each order that has a position."""
    ElementTree.register_namespace("", GPX)
    root = ElementTree.Element(_tag("gpx"), {"version": "1.1", "creator": "Lead line program"})
    about = ElementTree.SubElement(root, _tag("metadata"))
    _add(about, "name", name)
    _add(about, "time", at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))
    for order in orders:
        place = order.line.premise
        if place.latitude is None or place.longitude is None:
            continue
        given = given_of(order)
        at_place = {"lat": f"{place.latitude:.{_DECIMALS}f}",
                    "lon": f"{place.longitude:.{_DECIMALS}f}"}  # fmt: skip
        point = ElementTree.SubElement(root, _tag("wpt"), at_place)
        _add(point, "name", order.number)
        _add(point, "cmt", place.address)
        length = f", {order.length_ft:g} ft" if order.length_ft else ""
        _add(point, "desc", f"{given['old_pipe']} to {given['new_pipe']}{length}")
        _add(point, "type", order.get_state_display())
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def _tag(name: str) -> str:
    return f"{{{GPX}}}{name}"


def _add(parent, name: str, text: str) -> None:
    ElementTree.SubElement(parent, _tag(name)).text = _printable(text)


def _printable(text: str) -> str:
    """Leave out what XML 1.0 cannot hold."""
    return "".join(sign for sign in text if sign in "\t\n" or sign >= " ")
