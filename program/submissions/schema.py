"""The JSON Schema of the submission, built from the column tables: others validate against it."""

from collections.abc import Iterable

from program.submissions.facts import TOTALS
from program.submissions.rows import KeyedFact, RateYear
from program.submissions.tables import CODES, SHEETS, Sheet

SCHEMA_ID = "urn:lead-line-program:annual-submission:1"

_TYPES = {
    "text": {"type": "string"},
    "int": {"type": "integer"},
    "number": {"type": "number"},
    "date": {"type": "string", "format": "date"},
}
_FIGURE = {
    "anyOf": [
        {"type": "integer", "minimum": 0},
        {"$ref": "#/$defs/fraction"},
        {"type": "string"},
        {"type": "null"},
    ]
}
_BOUNDS = {"latitude": 90, "longitude": 180}
_COUNT = {"type": "integer", "minimum": 0}
_TEXT = {"type": "string"}
_RATE = {"anyOf": [{"$ref": "#/$defs/fraction"}, {"type": "null"}]}
_LISTS = {  # property of the document -> (sheet, name in $defs, what an entry cannot lack)
    "replacements": ("replacements", "replacement", ("location_id", "category_before", "counted")),
    "refusals": ("refusals", "refusal", ("location_id", "attempts", "methods")),
    "partials": ("partials", "partial", ("location_id", "category_before")),
    "changes": ("changes", "change", ("location_id", "from_category", "to_category", "cause")),
    "notices": ("notices", "notice", ("location_id", "kind")),
    "non_lead_bases": ("non_lead_bases", "non_lead_basis", ("lines",)),
    "findings_set_aside": ("set_aside", "finding_set_aside", ("location_id", "seen", "how")),
    "corrections": ("corrections", "correction", ("location_id", "evidence")),
    "filed_and_now": ("filed_and_now", "total_moved", ("code", "heading")),
    "values_used": ("values", "value_used", ("id", "value", "mark")),
}


def build_schema() -> dict:
    """Return the schema that the column tables amount to (draft 2020-12)."""
    properties = _head() | {key: _array(name) for key, (_sheet, name, _needed) in _LISTS.items()}
    defs = {"line": _row(SHEETS["lines"], ("location_id", "category"))}
    defs |= {name: _row(SHEETS[sheet], needed) for sheet, name, needed in _LISTS.values()}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_ID,
        "title": "Annual submission of a service line inventory",
        "description": (
            "The summary and every list but the line list; $defs/line describes each line of "
            "the JSON lines file that goes with it. Empty columns are left out."
        ),
        **_closed(properties),
        "$defs": defs | _parts(),
    }


def _closed(properties: dict, needed: Iterable[str] | None = None) -> dict:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties if needed is None else needed),
        "additionalProperties": False,
    }


def _array(name: str) -> dict:
    return {"type": "array", "items": {"$ref": f"#/$defs/{name}"}}


def _row(sheet: Sheet, needed: Iterable[str]) -> dict:
    properties = {}
    for column in sheet.columns:
        entry = dict(_FIGURE if column.kind == "figure" else _TYPES[column.kind])
        if column.codes:
            entry["enum"] = list(CODES[column.codes])
        if column.key in _BOUNDS:
            bound = _BOUNDS[column.key]
            entry |= {"minimum": -bound, "maximum": bound}
        elif column.kind == "int":
            entry["minimum"] = 0
        properties[column.key] = entry | {"description": f"{column.heading}: {column.comment}"}
    return _closed(properties, needed)


def _head() -> dict:
    return {
        "schema": {"const": SCHEMA_ID},
        "pwsid": _TEXT,
        "system_name": _TEXT,
        "population": _COUNT,
        "connections": _COUNT,
        "as_of": _TYPES["date"],
        "reported_on": _TYPES["date"],
        "program_year": {"type": "integer", "minimum": 0},
        "revision": {"type": "integer", "minimum": 1},
        "prepared_by": _TEXT,
        "rounding": _TEXT,
        "amended_because": _TEXT,
        "previous_digest": {"type": "string", "pattern": "^([0-9a-f]{64})?$"},
        "summary": _array("summary_line") | {"minItems": len(TOTALS)},
        "years": _array("rate_year"),
        "validation": _array("keyed_fact"),
        "deferral": _array("keyed_fact"),
        "open_questions": {"type": "array", "items": _TEXT},
        "files": {"type": "object", "additionalProperties": {"$ref": "#/$defs/file"}},
    }


def _parts() -> dict:
    digits = {"type": "string", "pattern": "^[0-9]+$"}
    year = dict.fromkeys(RateYear._fields, _COUNT)
    year |= {"pool": {"type": ["integer", "null"], "minimum": 0}}
    return {
        "fraction": _closed(
            {
                "numerator": digits,
                "denominator": digits,
                "percent": {"type": "number"},
                "text": _TEXT,
            }
        ),
        "keyed_fact": _closed(dict.fromkeys(KeyedFact._fields, _TEXT), ("heading", "value")),
        "file": _closed(
            {
                "name": _TEXT,
                "sha256": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
                "bytes": _COUNT,
            }
        ),
        "rate_year": _closed(year | {"annual_rate": _RATE, "cumulative_rate": _RATE}),
        "summary_line": _summary_line(),
    }


def _summary_line() -> dict:
    pair = {"type": "array", "prefixItems": [_TEXT, _TEXT], "items": False, "minItems": 2}
    where = {
        "description": "Rows that meet any one of these; each lists [column, code] that all hold.",
        "type": "array",
        "items": {"type": "array", "items": pair},
    }
    counted = ("lines", "replacements", "partials", "refusals", "changes")
    return _closed(
        {
            "code": {"type": "string", "pattern": "^[AB][0-9]+[a-c]?(_TO_DATE)?$"},
            "heading": _TEXT,
            "value": _FIGURE,
            "text": _TEXT,
            "how_counted": _TEXT,
            "counted_from": _closed({"list": {"enum": list(counted)}, "where": where}),
        },
        ("code", "heading", "value", "text"),
    )
