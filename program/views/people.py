"""Accounts and companies: who is let in, what they may do, what was changed, who signed in."""

from django import forms
from django.contrib import messages
from django.contrib.auth import get_user_model
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views import View
from django.views.generic import TemplateView

from program.clock import machine_now, now
from program.operations.people import (
    Account,
    Company,
    PeopleError,
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

    def get_context_data(self, form=None, **kwargs):
        """Give the lists, what was changed last, and the form for somebody new."""
        words = self.request.GET.get("q", "")
        return super().get_context_data(
            accounts=accounts(words), companies=companies(), changes=changes(), words=words,
            form=form or InviteForm(), **kwargs,
        )  # fmt: skip


class InviteView(PeopleView):
    """Letting somebody in."""

    permission_required = MANAGE

    def post(self, request):
        """Make the account and show its link; a fault stands beside what was typed."""
        form = InviteForm(request.POST)
        if not form.is_valid():
            return self.render_to_response(self.get_context_data(form=form))
        try:
            user = account_invite(username=form.cleaned_data["username"], asked=form.asked(),
                                  by=request.user.get_username(), at=now())  # fmt: skip
        except PeopleError as error:
            form.add_error(None, str(error))
            return self.render_to_response(self.get_context_data(form=form))
        messages.success(request, f"{user.get_username()} has an account. Give them a link next.")
        return redirect("account", user.pk)


class AccountView(Permitted, TemplateView):
    """One account: what it may do, and what was changed."""

    permission_required = SEE
    template_name = "program/account.html"

    def get_context_data(self, pk, form=None, **kwargs):
        person = get_object_or_404(get_user_model(), pk=pk)
        said = account_now(person)
        form = form or ChangeForm(initial={**vars(said), "reason": ""})
        return super().get_context_data(
            person=person, said=said, form=form, changes=changes(account=person),
            own=person.pk == self.request.user.pk, second_step=second_step_of(person),
            second_step_needed=must_have_second_step(person), record_now=now(),
            sessions=sessions_of(person, machine_now()), map_keys=map_keys_of(person), **kwargs,
        )  # fmt: skip


class AccountChangeView(AccountView):
    """Changing what an account may do."""

    permission_required, confirmed_within = MANAGE, CONFIRMED

    def post(self, request, pk):
        """Change it, or say beside what was typed why it stays."""
        person, form = get_object_or_404(get_user_model(), pk=pk), ChangeForm(request.POST)
        if form.is_valid():
            try:
                moved = account_change(user=person, asked=form.asked(), by=request.user, at=now(),
                                       reason=form.cleaned_data["reason"])  # fmt: skip
                messages.success(request, "The account is changed." if moved else "Nothing moved.")
                return redirect("account", pk)
            except PeopleError as error:
                form.add_error(None, str(error))
        return self.render_to_response(self.get_context_data(pk=pk, form=form))


class AccountLinkView(AccountView):
    """A link by which a person sets a password of their own."""

    permission_required, confirmed_within = MANAGE, CONFIRMED

    def post(self, request, pk):
        """Show the link this once; giving it is on record."""
        person, link = get_object_or_404(get_user_model(), pk=pk), ""
        try:
            path = account_link(user=person, by=request.user.get_username(), at=now())
            link = request.build_absolute_uri(path)
        except PeopleError as error:
            messages.error(request, str(error))
        told = self.get_context_data(pk=pk, link=link)
        answer = self.render_to_response(told, status=201 if link else 200)
        answer["Cache-Control"] = "no-store"
        return answer


class AccountSessionsView(Permitted, View):
    """Ending somebody's sessions on every machine."""

    permission_required = MANAGE

    def post(self, request, pk):
        """End them; their devices are shut out one by one."""
        person = get_object_or_404(get_user_model(), pk=pk)
        ended = sessions_end(user=person, by=request.user.get_username(), at=now())
        messages.success(request, f"{ended} session{'' if ended == 1 else 's'} ended.")
        return redirect("account", pk)


class AccountSecondStepView(Permitted, View):
    """Helping somebody who lost the telephone of their second step and the codes."""

    permission_required, confirmed_within = MANAGE, CONFIRMED

    def post(self, request, pk):
        """Forget both; the reason stays."""
        person = get_object_or_404(get_user_model(), pk=pk)
        try:
            second_step_reset(user=person, reason=request.POST.get("reason", ""),
                              by=request.user.get_username(), at=now())  # fmt: skip
            messages.success(request, "They set up another telephone when they sign in next.")
        except PeopleError as error:
            messages.error(request, str(error))
        return redirect("account", pk)


class CompanyView(Permitted, TemplateView):
    """A company, its crews, people and devices; without a number, a new one."""

    permission_required = SEE
    template_name = "program/company.html"

    def get_context_data(self, pk=None, form=None, **kwargs):
        company = get_object_or_404(Contractor, pk=pk) if pk else None
        if form is None and company:
            said = company_now(company)
            form = CompanyForm(initial={**vars(said), "crews": "\n".join(said.crews)})
        of = {"devices": devices_of(company), "changes": changes(company=company),
              "people": company.members.select_related("user")} if company else {}  # fmt: skip
        form = form or CompanyForm()
        action = reverse("company_change", args=[pk]) if pk else reverse("company_new")
        of["action"] = action
        return super().get_context_data(company=company, form=form, now=now(), **of, **kwargs)


class CompanyWriteView(CompanyView):
    """Entering or changing a company."""

    permission_required = MANAGE

    def post(self, request, pk=None):
        """Write it, or say beside what was typed what is wrong."""
        company = get_object_or_404(Contractor, pk=pk) if pk else None
        form = CompanyForm(request.POST)
        if form.is_valid():
            try:
                made = company_write(contractor=company, asked=form.asked(), at=now(),
                                     reason=form.cleaned_data["reason"],
                                     by=request.user.get_username())  # fmt: skip
                messages.success(request, f"{made.name} is on record.")
                return redirect("company", made.pk)
            except PeopleError as error:
                form.add_error(None, str(error))
        return self.render_to_response(self.get_context_data(pk=pk, form=form))


class CompanyDeviceView(Permitted, View):
    """Shutting a company's device out."""

    permission_required = MANAGE

    def post(self, request, pk):
        token = get_object_or_404(DeviceToken, pk=pk)
        device_shut_out(token=token, by=request.user.get_username(), at=now())
        messages.success(request, f"{token.name} is shut out.")
        return redirect("company", token.contractor_id)


class SignInListView(Permitted, TemplateView):
    """Who signed in, who failed to, and who opened what names residents."""

    permission_required = SEE
    template_name = "program/sign_in_list.html"

    def get_context_data(self, **kwargs):
        words = self.request.GET.get("q", "").strip()
        shown = {"rows": sign_ins(words), "opened": opened(words), "words": words}
        return super().get_context_data(**shown, **kwargs)
