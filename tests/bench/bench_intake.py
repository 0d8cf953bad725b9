"""What taking in a file costs, as ratios to a floor measured in the same run.

Each step is a process of its own, so that its peak memory is its own. Processor time stands
beside the clock's, because a machine that is shared stretches the clock's. It stretches the
processor's as well, where neighbors crowd its caches: then take the best of several runs.
"""

import argparse
import csv
import tempfile
from operator import itemgetter
from pathlib import Path
from typing import NamedTuple

from tests.bench import intake_file
from tests.bench.processes import in_process
from tests.bench.rows import machine, reached

STEPS_OF = "tests.bench.intake_steps"


class Step(NamedTuple):
    """A step, what it does, what it is measured against, in which letter, and its goal."""

    name: str
    work: str
    against: str = ""
    letter: str = ""
    goal: str = ""


STEPS = (
    Step("floor", "F: typed csv to one SQLite table"),
    Step("check", "dry run, empty record", "floor", "F", "1, 0.6"),
    Step("apply", "take_in, all of it", "floor", "F", "5, 3.5"),
    Step("again", "the same file again", "floor", "F", "2, 1"),
    Step("update", "5 % of the rows, new evidence", "apply", "%", "10, 7"),
    Step("case", "C: SQL UPDATE ... CASE of all lines"),
    Step("restate", "restate from the evidence, nothing changes", "case", "C", "0.5, 0.3"),
    Step("restate_afresh", "the same, every statement reduced again", "case", "C"),
    Step("restate_all", "restate from the evidence, all change", "case", "C", "2, 1.5"),
    Step("undo", "take the whole file back", "apply", "%"),
    Step("import_export", "django-import-export, plain table", "apply", "x take_in", "6, 9"),
    Step("postgresql", "take_in on PostgreSQL", "apply", "x SQLite", "2, 1.5"),
    Step("normalize", "address normalization", "", "us", "10, 3"),
    Step("best_place", "P: contains_xy on points sorted by x"),
    Step("place", "assign points to 200 polygons", "best_place", "P", "1.5, 1.2"),
)
MOST_FOR_IMPORT_EXPORT = 100_000


def main() -> None:
    """Measure every step and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench intake")
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--only", default="", help="steps, separated by commas")
    parser.add_argument("--postgresql", default="", help="URL of an empty database to measure too")
    parser.add_argument("--best-of", type=int, default=1, help="runs: a machine may be shared")
    options = parser.parse_args()
    if options.postgresql and options.best_of > 1:
        parser.error("the PostgreSQL database is empty once only: leave --best-of out")
    wanted = set(options.only.split(",") if options.only else [step.name for step in STEPS])
    if not options.postgresql:
        wanted.discard("postgresql")
    if options.rows > MOST_FOR_IMPORT_EXPORT and not options.only:
        wanted.discard("import_export")
    steps = [step.name for step in STEPS if step.name in wanted]
    runs = [_run(steps, options.rows, options.postgresql) for _ in range(options.best_of)]
    found = {step: min((run[step] for run in runs), key=itemgetter("cpu")) for step in steps}
    print("\n".join(table(found, options.rows)))
    if options.best_of > 1:
        print(f"\nOf each step the quickest of {options.best_of} runs of all of them.")


def _run(steps: list[str], rows: int, database: str) -> dict[str, dict]:
    """Do the steps one after another on a record of their own; return what each took."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_files(folder, rows)
        in_process(STEPS_OF, "prepare", folder)
        return {step: _measured(folder, step, database) for step in steps}


def _measured(folder: Path, step: str, database: str) -> dict:
    if step != "postgresql":
        return in_process(STEPS_OF, step, folder)
    in_process(STEPS_OF, "prepare", folder, database=database)
    return in_process(STEPS_OF, "apply", folder, database=database)


def write_files(folder: Path, rows: int) -> None:
    """Write the whole file, and one of new evidence about every twentieth line."""
    intake_file.write(folder / "lines.csv", rows)
    with (folder / "update.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(("location id", "customer side material", "source", "observed on"))
        for at in range(0, rows, 20):
            material = ("lead", "copper", "galvanized")[at // 20 % 3]
            writer.writerow((f"L{at:08d}", material, "excavation", "2026-05-04"))


def table(found: dict[str, dict], rows: int) -> list[str]:
    """Return the lines of the table."""
    lines = [
        f"{rows:,} rows x {len(intake_file.HEADER)} columns; {machine()}",
        "",
        "| work | seconds | processor s | ratio | by processor time | must, aim | reached | "
        "peak MB |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for step in STEPS:
        if step.name in found:
            one = found[step.name]
            clock, cpu = (_ratio(step, found, rows, of) for of in ("seconds", "cpu"))
            lines.append(
                f"| {step.work} | {one['seconds']:.2f} | {one['cpu']:.2f} | {clock} | {cpu} "
                f"| {step.goal} | {_reached(step, found, rows)} | {one['rss']} |"
            )
    return lines


def _compared(step: Step, found: dict[str, dict], rows: int, of: str) -> float | None:
    """Return what is held against the goal; None where there is nothing to compare with."""
    if step.letter == "us":
        return found[step.name][of] / rows * 1e6
    if step.against not in found:
        return None
    ratio = found[step.name][of] / found[step.against][of]
    return 100 * ratio if step.letter == "%" else ratio


def _ratio(step: Step, found: dict[str, dict], rows: int, of: str) -> str:
    compared = _compared(step, found, rows, of)
    if compared is None:
        return ""
    ends = {"us": "us each"}.get(step.letter, step.letter)
    return f"{compared:.1f} %" if step.letter == "%" else f"{compared:.2f} {ends}"


def _reached(step: Step, found: dict[str, dict], rows: int) -> str:
    """Say which goal the processor time reached."""
    compared = _compared(step, found, rows, "cpu")
    if compared is None or not step.goal:
        return ""
    if step.name == "import_export":  # theirs is to take so many times as long as ours
        compared, must, aim = -compared, *(-float(part) for part in step.goal.split(", "))
    else:
        must, aim = (float(part) for part in step.goal.split(", "))
    return reached(compared, must, aim)


if __name__ == "__main__":
    main()
