"""Who may do what: one table, role -> permission strings that the apps declare themselves.

`sync_roles` writes the groups after every migration; nobody edits a group by hand.
"""

from django.contrib.auth import get_user_model
from django.contrib.auth.backends import ModelBackend
from django.contrib.auth.models import Group, Permission
from django.db.models import Q

from services_inventory.asked_once import once

PROGRAM_MANAGER = "Program manager"
CONTRACTOR = "Contractor"
COMPLIANCE = "Compliance staff"
ADMINISTRATOR = "Administrator"

# Whose job a duty is, by the value of the rule that sets its day; all others are compliance's.
_MANAGERS_DUTIES = frozenset(
    {
        "CUSTOMER_INITIATED_DAYS", "CUSTOMER_INITIATED_LIMIT_DAYS", "OWNER_CHANGE_OFFER_MONTHS",
        "OWNER_CHANGE_EFFORT_MONTHS", "WORK_NOTICE_DAYS", "FILTER_DAYS",
        "FOLLOW_UP_SAMPLE_TO_MONTHS", "REPLACEMENT_DEADLINE", "UNKNOWNS_IDENTIFIED_BY",
    }
)  # fmt: skip


def duty_owner(rule_id: str) -> str:
    """Return the role whose job a deadline is."""
    return PROGRAM_MANAGER if rule_id in _MANAGERS_DUTIES else COMPLIANCE


_SEE = (
    "services_inventory.view_serviceline",
    "services_inventory.view_neighborhood",
    "program.view_boards",
    "replacements.view_all_work",
)

ROLES = {
    PROGRAM_MANAGER: (
        *_SEE,
        "services_inventory.intake",
        "services_inventory.undo_batch",
        "services_inventory.change_boundaries",
        "services_inventory.record_evidence",
        "services_inventory.export_inventory",
        "replacements.plan_work",
        "replacements.review_work",
        "replacements.record_access",
        "replacements.pay_contractors",
        "replacements.set_force_model",
        "program.manage_program",
        "program.write_plan",
    ),
    CONTRACTOR: ("replacements.do_work",),
    COMPLIANCE: (
        *_SEE,
        "services_inventory.intake",
        "services_inventory.undo_batch",
        "services_inventory.record_evidence",
        "services_inventory.resolve_conflict",
        "services_inventory.run_validation",
        "services_inventory.export_inventory",
        "replacements.review_work",
        "replacements.record_access",
        "program.prepare_submission",
        "program.certify_submission",
        "program.manage_utility",
        "program.write_plan",
        "program.send_notices",
        "program.record_samples",
        "program.answer_inquiry",
        "program.view_people",
    ),
    ADMINISTRATOR: (
        *_SEE,
        "services_inventory.intake",
        "services_inventory.undo_batch",
        "services_inventory.change_boundaries",
        "services_inventory.export_inventory",
        "replacements.plan_work",
        "program.manage_program",
        "program.manage_utility",
        "program.manage_people",
        "program.view_people",
    ),
}


def sync_roles(sender=None, **kwargs) -> None:
    """Make the groups hold exactly the permissions of the table (runs after migrate)."""
    for role, strings in ROLES.items():
        group, _ = Group.objects.get_or_create(name=role)
        wanted = []
        for string in strings:
            app_label, codename = string.split(".")
            found = Permission.objects.filter(
                content_type__app_label=app_label, codename=codename
            ).first()
            if found:
                wanted.append(found)
        group.permissions.set(wanted)


def role_of(user) -> str:
    """Return the name of the user's role, or an empty string."""
    if not user.is_authenticated:
        return ""
    if user.is_superuser:
        return ADMINISTRATOR
    names = _groups_of(user)
    return next((role for role in ROLES if role in names), "")


@once
def _groups_of(user) -> set[str]:
    return {group.name for group in user.groups.all()}


def name_stays(sender, instance, update_fields=None, **kwargs) -> None:
    """Refuse to write an account under another name: what it signed would be somebody else's."""
    if instance.pk is None or (update_fields and "username" not in update_fields):
        return
    was = sender.objects.filter(pk=instance.pk).values_list("username", flat=True).first()
    if was is not None and was != instance.username:
        raise ValueError(f"{was} has signed acts by that name, and keeps it.")


class RolesBackend(ModelBackend):
    """Signs in as Django does, but nobody of a company that no longer works for the utility.

    A user's permissions are read by one question instead of two.
    """

    def get_user(self, user_id):
        """Return who is signed in, while they are let in; asked at every request."""
        users = get_user_model().objects.select_related("membership__contractor")
        user = users.filter(pk=user_id).first()
        return user if user and self.user_can_authenticate(user) else None

    def user_can_authenticate(self, user):
        """Tell whether somebody is let in."""
        membership = getattr(user, "membership", None)
        return super().user_can_authenticate(user) and (
            membership is None or membership.contractor.active
        )

    def _get_group_permissions(self, user_obj):
        return Permission.objects.filter(Q(group__user=user_obj) | Q(user=user_obj))

    def _get_user_permissions(self, user_obj):
        return Permission.objects.none()
