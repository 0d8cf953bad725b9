"""What the page to sign says of a submission."""

from pathlib import Path

from django.utils.timezone import localdate

from program.models import Submission
from program.queries.certification import questions_asked
from program.submissions.facts import code_order
from services_inventory.domain.days import day_told

NOT_YET = "Not certified yet. To be filled in by whoever signs."


def sheet_said(submission: Submission) -> dict:
    """Return the text of the page to sign, for print and PDF alike."""
    facts, signed = submission.facts, submission.certified_at
    about = f"{submission.year}, revision {submission.revision}"
    answers = facts.get("answers") or [
        [one.question, *one.evidence] for one in questions_asked(submission)
    ]
    number = facts["program_year"]
    year = f"program year {number}" if number else "before the first program year"
    sentence = (
        f"{facts['system_name']}, PWSID {facts['pwsid'] or 'not recorded'}. Revision "
        f"{submission.revision}, as of {day_told(submission.as_of)}, {year}; frozen on "
        f"{day_told(localdate(submission.frozen_at))} by {submission.frozen_by}."
    )
    if submission.what_changed:
        sentence += f" Amended: {submission.what_changed}"
    return {
        "title": f"Certification of the annual submission for {submission.year}",
        "system": facts["system_name"],
        "about": about,
        "mark": "" if signed else "NOT CERTIFIED",
        "sentence": sentence,
        "statement": submission.certified_statement or NOT_YET,
        "name": submission.certified_by,
        "job": submission.certified_title,
        "day": day_told(localdate(signed)) if signed else "",
        "answers": answers,
        "answers_heading": "What was asked before signing" if signed else "What is asked",
        "answer": "Yes" if signed else "____",
        "figures": [
            (entry["code"].replace("_TO_DATE", ", all"), entry["heading"], entry["text"])
            for entry in sorted(facts["summary"], key=lambda e: code_order(e["code"]))
        ],
        "digest": submission.digest,
        "previous": submission.previous_digest or "none: this is the first",
        "record": facts.get("record_head") or "not sealed",
        "files": [
            (Path(path).name, sha256)
            for path, sha256 in submission.files.order_by("id").values_list("path", "sha256")
        ],
    }
