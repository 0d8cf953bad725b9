"""Accounts and companies: who is let in, what they may do, what was changed, who signed in."""

from django import forms
from django.contrib import messages
from django.contrib.auth import get_user_model
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.generic import TemplateView

from program.clock import machine_now, now
from program.operations.people import (
    Account,
    Company,
    account_change,
    account_invite,
    account_link,
    account_now,
    company_now,
    company_write,
    second_step_reset,
    sessions_end,
)
from program.queries.people import (
    accounts,
    changes,
    companies,
    devices_of,
    map_keys_of,
    opened,
    sessions_of,
    sign_ins,
)
from program.roles import ROLES
from program.second_step import must_have_second_step, second_step_of
from replacements.api.authentication import device_shut_out
from replacements.models import Contractor, DeviceToken
from services_inventory.refused import Refused

from .acts import Act, PageAct
from .permitted import Permitted

MANAGE, SEE = "program.manage_people", "program.view_people"
CONFIRMED = 30 * 60  # seconds since the password was shown, for acts on other people's accounts


class AccountForm(forms.Form):
    """What an account is and may do."""

    full_name = forms.CharField(label="Full name", max_length=150)
    role = forms.ChoiceField(label="Role", choices=[("", "choose …"), *((r, r) for r in ROLES)])
    company = forms.ModelChoiceField(
        label="Company", queryset=Contractor.objects.none(), required=False,
        empty_label="none", help_text="Of a contractor only: the company whose work they see.",
    )  # fmt: skip
    email = forms.EmailField(label="E-mail", required=False)

    def __init__(self, *args, **kwargs):
        """Offer the companies that work here."""
        super().__init__(*args, **kwargs)
        self.fields["company"].queryset = Contractor.objects.order_by("-active", "name")

    def asked(self) -> Account:
        """Return what was asked."""
        return Account(
            **{k: v for k, v in self.cleaned_data.items() if k in Account.__annotations__}
        )


class InviteForm(AccountForm):
    """A new account."""

    field_order = ("username", "full_name", "role", "company", "email")
    username = forms.CharField(
        label="Name to sign in with",
        max_length=60,
        help_text="Such as j.osei. It is never changed.",
    )


class ChangeForm(AccountForm):
    """A changed account, and why."""

    active = forms.BooleanField(label="Is let in", required=False)
    reason = forms.CharField(label="Why it is changed", max_length=300)


class CompanyForm(forms.Form):
    """A company that replaces lines."""

    name = forms.CharField(label="Name of the company", max_length=120)
    phone = forms.CharField(label="Telephone", max_length=40, required=False)
    email = forms.EmailField(label="E-mail", required=False)
    crews = forms.CharField(
        label="Crews", required=False, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One to a line.",
    )  # fmt: skip
    active = forms.BooleanField(
        label="Works here", required=False, initial=True,
        help_text="Without it, the company's people and devices are out at once.",
    )  # fmt: skip
    reason = forms.CharField(label="Why it is changed", max_length=300, required=False)

    def asked(self) -> Company:
        """Return what was asked."""
        said = self.cleaned_data
        crews = tuple(sorted({line.strip()[:80] for line in said["crews"].splitlines()} - {""}))
        return Company(said["name"].strip(), said["active"], said["phone"], said["email"], crews)


class PeopleView(Permitted, TemplateView):
    """Everybody who is let in, and the companies."""

    permission_required = SEE
    template_name = "program/people.html"
    form = None

    def get_context_data(self, **kwargs):
        """Give the lists, what was changed last, and the form for somebody new."""
        words = self.request.GET.get("q", "")
        return super().get_context_data(
            accounts=accounts(words), companies=companies(), changes=changes(), words=words,
            form=self.form or InviteForm(), **kwargs,
        )  # fmt: skip


class InviteView(PageAct, PeopleView):
    """Letting somebody in."""

    permission_required, form_class = MANAGE, InviteForm

    def keep(self, thing, given):
        asked = self.form.asked()
        user = account_invite(username=given["username"], asked=asked, **self.signed())
        told = f"{user.get_username()} has an account. Give them a link next."
        return self.done(told, "account", user.pk)


class AccountView(Permitted, TemplateView):
    """One account: what it may do, and what was changed."""

    permission_required = SEE
    template_name = "program/account.html"
    form = None

    def get_context_data(self, pk, **kwargs):
        person = get_object_or_404(get_user_model(), pk=pk)
        said = account_now(person)
        form = self.form or ChangeForm(initial={**vars(said), "reason": ""})
        return super().get_context_data(
            person=person, said=said, form=form, changes=changes(account=person),
            own=person.pk == self.request.user.pk, second_step=second_step_of(person),
            second_step_needed=must_have_second_step(person), record_now=now(),
            sessions=sessions_of(person, machine_now()), map_keys=map_keys_of(person), **kwargs,
        )  # fmt: skip


class AccountAct(Act):
    """An act on somebody's account."""

    permission_required, model, page = MANAGE, get_user_model(), "account"


class AccountChangeView(PageAct, AccountView):
    """Changing what an account may do."""

    permission_required, confirmed_within = MANAGE, CONFIRMED
    form_class, model, page = ChangeForm, get_user_model(), "account"

    def keep(self, person, given):
        moved = account_change(user=person, asked=self.form.asked(), by=self.request.user,
                               at=now(), reason=given["reason"])  # fmt: skip
        return "The account is changed." if moved else "Nothing moved."


class AccountLinkView(AccountView):
    """A link by which a person sets a password of their own."""

    permission_required, confirmed_within = MANAGE, CONFIRMED

    def post(self, request, pk):
        """Show the link this once; giving it is on record."""
        person, link = get_object_or_404(get_user_model(), pk=pk), ""
        try:
            path = account_link(user=person, by=request.user.get_username(), at=now(),
                                end_old="end_old" in request.POST)  # fmt: skip
            link = request.build_absolute_uri(path)
        except Refused as error:
            messages.error(request, str(error))
        told = self.get_context_data(pk=pk, link=link)
        answer = self.render_to_response(told, status=201 if link else 200)
        answer["Cache-Control"] = "no-store"
        return answer


class AccountSessionsView(AccountAct):
    """Ending somebody's sessions on every machine; their devices are shut out one by one."""

    def keep(self, person, given):
        ended = sessions_end(user=person, **self.signed())
        return f"{ended} session{'' if ended == 1 else 's'} ended."


class AccountSecondStepView(AccountAct):
    """Helping somebody who lost the telephone of their second step and the codes."""

    confirmed_within = CONFIRMED

    def keep(self, person, given):
        """Forget both; the reason stays."""
        reason = self.request.POST.get("reason", "")
        second_step_reset(user=person, reason=reason, **self.signed())
        return "They set up another telephone when they sign in next."


class CompanyView(Permitted, TemplateView):
    """A company, its crews, people and devices; without a number, a new one."""

    permission_required = SEE
    template_name = "program/company.html"
    form = None

    def get_context_data(self, pk=None, **kwargs):
        company = get_object_or_404(Contractor, pk=pk) if pk else None
        form = self.form
        if form is None and company:
            said = company_now(company)
            form = CompanyForm(initial={**vars(said), "crews": "\n".join(said.crews)})
        of = {"devices": devices_of(company), "changes": changes(company=company),
              "people": company.members.select_related("user")} if company else {}  # fmt: skip
        form = form or CompanyForm()
        action = reverse("company_change", args=[pk]) if pk else reverse("company_new")
        of["action"] = action
        return super().get_context_data(company=company, form=form, now=now(), **of, **kwargs)


class CompanyWriteView(PageAct, CompanyView):
    """Entering or changing a company."""

    permission_required, form_class = MANAGE, CompanyForm

    def thing(self, pk=None):
        return get_object_or_404(Contractor, pk=pk) if pk else None

    def keep(self, company, given):
        made = company_write(contractor=company, asked=self.form.asked(),
                             reason=given["reason"], **self.signed())  # fmt: skip
        return self.done(f"{made.name} is on record.", "company", made.pk)


class CompanyDeviceView(Act):
    """Shutting a company's device out."""

    permission_required, model = MANAGE, DeviceToken

    def keep(self, token, given):
        device_shut_out(token=token, **self.signed())
        return f"{token.name} is shut out."

    def back(self, token):
        return redirect("company", token.contractor_id)


class SignInListView(Permitted, TemplateView):
    """Who signed in, who failed to, and who opened what names residents."""

    permission_required = SEE
    template_name = "program/sign_in_list.html"

    def get_context_data(self, **kwargs):
        words = self.request.GET.get("q", "").strip()
        shown = {"rows": sign_ins(words), "opened": opened(words), "words": words}
        return super().get_context_data(**shown, **kwargs)
