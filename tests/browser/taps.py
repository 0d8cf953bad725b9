"""What five kinds of job take on the phone's card: answers, taps and minutes, photos apart.

    python -m tests.browser.taps

The minutes are of a person with gloves, who reads each screen (`test_phone_card`).
"""

import sys

import pytest

ROW = "| {} | {} | {} | {:.1f} |"


class Jobs:
    """What the tests of the card note of each kind of job."""

    def __init__(self):
        self.rows: list[tuple] = []

    def pytest_runtest_logreport(self, report):
        """Take what a test noted."""
        if report.when == "call":
            self.rows += [value for name, value in report.user_properties if name == "job"]


def main() -> int:
    """Go through the jobs, and print the table."""
    jobs = Jobs()
    ended = pytest.main(
        ["-q", "-p", "no:cacheprovider", "tests/browser/test_phone_card.py"], [jobs]
    )
    print("\n| kind of job | answers | taps | minutes |\n| --- | --- | --- | --- |")
    print("\n".join(ROW.format(*row) for row in jobs.rows))
    return int(ended)


if __name__ == "__main__":
    sys.exit(main())
