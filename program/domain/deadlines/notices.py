"""Clocks of notices, inquiries, results and new owners."""

from dataclasses import dataclass
from datetime import date

from program.domain.calendar import day_of_year
from program.domain.deadlines.due import Due, Subject, SubjectKind, after, on_day
from services_inventory.domain.days import day_told
from services_inventory.domain.regulation import Rules


@dataclass(frozen=True)
class Discovery:
    """A line called non-lead was found to be lead or galvanized requiring replacement."""

    line_id: str
    discovered_on: date
    notice_sent_on: date | None = None
    inventory_updated_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The notice to the persons served, and the correction of the inventory."""
        line, start = Subject(SubjectKind.LINE, self.line_id), self.discovered_on
        return [
            after(rules, "NOTICE_AFTER_DISCOVERY_DAYS", start, "Notice to the persons served", line,
                  "the discovery", self.notice_sent_on),
            after(rules, "DISCOVERY_UPDATE_DAYS", start, "Inventory corrected", line,
                  "the discovery", self.inventory_updated_on),
        ]  # fmt: skip


@dataclass(frozen=True)
class InventoryFinished:
    """An inventory that first lists an address with a lead, GRR or unknown line was finished."""

    address_id: str
    finished_on: date
    notice_sent_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The first notice to the address."""
        address = Subject(SubjectKind.ADDRESS, self.address_id)
        return [
            after(rules, "NOTICE_AFTER_INVENTORY_DAYS", self.finished_on, "First notice", address,
                  "the inventory was finished", self.notice_sent_on),
        ]  # fmt: skip


@dataclass(frozen=True)
class YearlyNotice:
    """The last notice that went to an address whose line is still not wholly non-lead."""

    address_id: str
    last_sent_on: date
    sent_again_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The next notice: a year after the last, or by the State's fixed day of the next year."""
        address, last = Subject(SubjectKind.ADDRESS, self.address_id), self.last_sent_on
        fixed = rules.value("NOTICE_LAST_DAY", last)
        if fixed is None:
            return [
                after(rules, "NOTICE_REPEAT_MONTHS", last, "Yearly notice", address,
                      "the notice before", self.sent_again_on),
            ]  # fmt: skip
        due_on = day_of_year(fixed, last.year + 1)
        how = f"Fixed day of the calendar year after the notice of {day_told(last)}"
        return [
            on_day(rules, "NOTICE_LAST_DAY", due_on, how, "Yearly notice", address,
                   self.sent_again_on, last.isoformat()),
        ]  # fmt: skip


@dataclass(frozen=True)
class NewCustomer:
    """Service starts for somebody at an address with a lead, GRR or unknown line."""

    person_id: str
    service_starts_on: date
    notice_sent_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The notice at the start of service."""
        person = Subject(SubjectKind.PERSON, self.person_id)
        return [
            after(rules, "NEW_CUSTOMER_NOTICE_DAYS", self.service_starts_on,
                  "Notice to a new customer", person, "the start of service", self.notice_sent_on),
        ]  # fmt: skip


@dataclass(frozen=True)
class Inquiry:
    """Somebody says that a line's category is wrong; an inspection may follow."""

    inquiry_id: str
    line_id: str
    received_on: date
    answered_on: date | None = None
    inspected_on: date | None = None
    inventory_updated_on: date | None = None
    offered_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The response, the offer to inspect, and the update after an inspection.

        The offer has the earlier of two readings of one paragraph as its day; whoever answers
        or inspects has offered.
        """
        line = Subject(SubjectKind.LINE, self.line_id)
        person = Subject(SubjectKind.PERSON, f"who wrote inquiry {self.inquiry_id}")
        found = [
            after(rules, "DISPUTE_RESPONSE_DAYS", self.received_on, "Response to an inquiry",
                  person, "the inquiry", self.answered_on, self.inquiry_id),
            after(rules, "DISPUTE_OFFER_DAYS", self.received_on, "Offer to inspect the line",
                  person, "the inquiry", self._offered, self.inquiry_id),
        ]  # fmt: skip
        if self.inspected_on:
            found.append(
                after(rules, "INVENTORY_CORRECTION_DAYS", self.inspected_on,
                      "Inventory updated after an inspection", line, "the inspection",
                      self.inventory_updated_on, self.inquiry_id)
            )  # fmt: skip
        return found

    @property
    def _offered(self) -> date | None:
        days = (self.offered_on, self.answered_on, self.inspected_on)
        return min((day for day in days if day), default=None)


@dataclass(frozen=True)
class SampleResult:
    """A tap sample's result, learned by the system; `follow_up`: after a replacement."""

    sample_id: str
    address_id: str
    learned_on: date
    follow_up: bool = False
    sent_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The result to the household."""
        rule_id = "FOLLOW_UP_RESULT_BUSINESS_DAYS" if self.follow_up else "RESULT_BUSINESS_DAYS"
        address = Subject(SubjectKind.ADDRESS, self.address_id)
        return [
            after(rules, rule_id, self.learned_on, "Result to the household", address,
                  "the result was learned", self.sent_on, self.sample_id),
        ]  # fmt: skip


@dataclass(frozen=True)
class OwnerChange:
    """A property whose line was left for lack of consent has a new owner."""

    line_id: str
    changed_on: date
    offered_on: date | None = None
    effort_complete_on: date | None = None

    def dues(self, as_of: date, rules: Rules) -> list[Due]:
        """The offer, and the reasonable effort; both end with consent or a refusal on record."""
        line = Subject(SubjectKind.LINE, self.line_id)
        return [
            after(rules, "OWNER_CHANGE_OFFER_MONTHS", self.changed_on,
                  "Replacement offered to the new owner", line, "the change of owner",
                  self.offered_on),
            after(rules, "OWNER_CHANGE_EFFORT_MONTHS", self.changed_on,
                  "Reasonable effort to get the new owner's consent", line,
                  "the change of owner", self.effort_complete_on),
        ]  # fmt: skip
