"""Check an unpacked submission with nothing but Python: hashes, chain, totals.

    python recount.py [FOLDER]

Prints one line a check and ends with code 1 if one fails. Needs the standard layout for totals.
"""

import csv
import hashlib
import json
import sys
from collections import Counter
from pathlib import Path

CODES = {"LEAD": "A1", "GRR": "A2", "UNKNOWN": "A3", "NON_LEAD": "A4"}


def check(folder):
    """Yield (what, whether it holds) for everything that can be checked here."""
    [manifest] = folder.glob("*-manifest.json")
    sealed = json.loads(manifest.read_bytes())
    for file in sealed["files"]:
        path = folder / file["name"]
        found = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "missing"
        yield f"{file['name']} is the file that was frozen", found == file["sha256"]
    digest = hashlib.sha256(manifest.read_bytes()).hexdigest()
    print(f"Digest {digest}: compare it with the signing page.")
    print(f"Chained to {sealed['previous'] or 'nothing: it is the first'}.")
    names = {file["name"] for file in sealed["files"]} | {manifest.name}
    for path in sorted(folder.iterdir()):
        known = path.name in names or path.suffix in (".pdf", ".py", ".html")
        if not known:
            yield f"{path.name} belongs to the submission", False
    [summary] = [path for path in folder.glob("*.json") if path != manifest]
    said = {row["code"]: row for row in json.loads(summary.read_bytes())["summary"]}
    [lines] = folder.glob("*-lines.csv")
    with open(lines, encoding="utf-8", newline="") as file:
        counted = Counter(row["Category"] for row in csv.DictReader(file))
    for word, code in CODES.items():
        told = f"{code}: said {said[code]['text']}, counted {counted[word]:,}"
        yield told, said[code]["value"] == counted[word]
    total = sum(counted.values())
    yield f"A5: said {said['A5']['text']}, counted {total:,}", said["A5"]["value"] == total


def main():
    """Check the folder that is named, or this one."""
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).parent)
    results = list(check(folder))
    for what, holds in results:
        print("holds " if holds else "FAILS ", what)
    failed = sum(not holds for _, holds in results)
    print(f"{failed} of {len(results)} checks fail." if failed else f"All {len(results)} hold.")
    sys.exit(bool(failed))


if __name__ == "__main__":
    main()
