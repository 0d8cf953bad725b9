"""Where in a TOML text each key stands, so that a fault can be pointed at."""

import re

Path = tuple[str, ...]
Place = tuple[int, int]  # line and column, both from 1

_PART = r"\"(?:[^\"\\]|\\.)*\"|'[^']*'|[A-Za-z0-9_-]+"
_DOTTED = rf"(?:{_PART})(?:\s*\.\s*(?:{_PART}))*"
_TABLE = re.compile(rf"^(\s*\[\[?\s*)({_DOTTED})\s*\]")
_KEY = re.compile(rf"^(\s*)({_DOTTED})\s*=")
_LONG = re.compile(r'"""|\'\'\'')
_SAID = re.compile(r"\s*\(at line (\d+), column (\d+)\)")


def places(text: str) -> dict[Path, Place]:
    r"""Return where every table and every key of a TOML text first stands.

    Examples
    --------
    >>> places("[a.b]\nc = 1")[("a", "b", "c")]
    (2, 1)
    """
    found: dict[Path, Place] = {}
    table: Path = ()
    inside = False  # a text of several lines
    for number, line in enumerate(text.split("\n"), start=1):
        if not inside:
            if match := _TABLE.match(line):
                table = _parts(match[2])
                found.setdefault(table, (number, len(match[1]) + 1))
            elif match := _KEY.match(line):
                found.setdefault(table + _parts(match[2]), (number, len(match[1]) + 1))
        inside ^= len(_LONG.findall(line)) % 2 == 1
    return found


def nearest(path: Path, found: dict[Path, Place]) -> Place | None:
    """Return the place of a key, or of the innermost table around it that stands in the text."""
    for length in range(len(path), 0, -1):
        if path[:length] in found:
            return found[path[:length]]
    return None


def said_place(message: str) -> tuple[str, Place | None]:
    """Part a TOML reader's message into what is wrong and where it says that it is."""
    match = _SAID.search(message)
    if match is None:
        return message.replace(" (at end of document)", " at the end of the text"), None
    return _SAID.sub("", message), (int(match[1]), int(match[2]))


def _parts(dotted: str) -> Path:
    return tuple(part.strip("\"'") for part in re.findall(_PART, dotted))
