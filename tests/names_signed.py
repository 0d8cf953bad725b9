"""Whose name stands under what is on record: a name is one account's, and nobody else's ever."""

from django.apps import apps
from django.contrib.auth import get_user_model
from django.db import transaction
from django.db.models import CharField, ProtectedError, TextField

from program.clock import now
from program.operations.people import (
    Account,
    account_change,
    account_invite,
    account_now,
    accounts_are_as_changed,
)
from program.queries.people import signed_by, signed_columns
from program.roles import PROGRAM_MANAGER
from services_inventory.refused import Refused


class NamesSigned:
    """To be mixed into a test that has a town and its people."""

    def test_every_column_with_the_name_of_an_account_is_asked_before_a_name_is_given(self):
        """Find the town's names in every column of text; sign there as somebody long gone."""
        names, asked = set(self.people.values()), set(signed_columns())
        found = {
            (table, field.name)
            for app in ("services_inventory", "replacements", "program")
            for table in apps.get_app_config(app).get_models()
            for field in table._meta.concrete_fields
            if isinstance(field, CharField | TextField)
            and names & set(table._base_manager.values_list(field.name, flat=True))
        }
        assert found <= asked, found - asked
        assert len(found) > 30, found
        for table, column in asked:
            with transaction.atomic():
                if table._base_manager.update(**{column: "J.Gone"}):
                    assert signed_by("j.gone"), (table, column)
                transaction.set_rollback(True)

    def test_a_name_stays_with_its_account_and_with_nobody_else(self):
        """Close an account; neither it nor its name can be had, by any way; by hand is seen."""
        users = get_user_model().objects
        user, admin = users.get(username="kestrel"), users.get(username="admin")
        gone = Account(**account_now(user).__dict__ | {"active": False})
        account_change(user=user, asked=gone, reason="left", by=admin, at=now())
        with self.assertRaisesMessage(Refused, "is taken"):
            asked = Account("K. Strel", PROGRAM_MANAGER)
            account_invite(username="Kestrel", asked=asked, by="admin", at=now())
        user.username = "other"
        with self.assertRaisesMessage(ValueError, "keeps it"):
            user.save()
        with self.assertRaises(ProtectedError):
            users.filter(pk=user.pk).delete()
        assert list(accounts_are_as_changed()) == []
        users.filter(pk=user.pk).update(username="other")
        told = list(accounts_are_as_changed())
        assert len(told) == 1
        assert "signed as kestrel is now called other" in told[0]
