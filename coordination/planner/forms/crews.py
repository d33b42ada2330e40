"""What the office keeps of a crew, its members, and time agreed with it."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from coordination.people.companies import companies_of, find_alike, find_company
from coordination.people.models import Builder, Company, Crew, Person, Trade, WorkingCalendar
from coordination.people.refusals import BadInput
from coordination.planner.crew_keeping import CrewEntry, may_join
from coordination.planner.forms.half_days import HalfDayField

ANOTHER = "another"
"""Answer to whether a company of nearly the same name is meant."""


class CrewForm(forms.Form):
    """A crew with its company and the person on the tools. The company may be known or new."""

    company = forms.CharField(label=_("Company"), max_length=120)
    company_phone = forms.CharField(label=_("Phone of the company"), max_length=40, required=False)
    trade = forms.ModelChoiceField(label=_("Trade"), queryset=Trade.objects.all(), empty_label=_("choose"))
    name = forms.CharField(
        label=_("Name of the crew"),
        max_length=120,
        required=False,
        help_text=_("Empty: as the company."),
    )
    contact_name = forms.CharField(
        label=_("Name"),
        max_length=120,
        required=False,
        help_text=_("Gets the link of the crew's page, and all messages."),
    )
    contact_mail = forms.EmailField(label=_("E-mail"), max_length=254, required=False)
    contact_phone = forms.CharField(label=_("Phone"), max_length=40, required=False)
    calendar = forms.ModelChoiceField(
        label=_("Working calendar"), queryset=WorkingCalendar.objects.none(), empty_label=None
    )
    capacity = forms.IntegerField(label=_("Houses at once"), min_value=1, max_value=20, initial=1)

    def __init__(self, builder: Builder, crew: Crew | None, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.builder, self.crew = builder, crew
        calendars = WorkingCalendar.objects.filter(Q(builder=builder) | Q(builder=None))
        cast("forms.ModelChoiceField[WorkingCalendar]", self.fields["calendar"]).queryset = calendars
        self.fields["company"].widget.attrs |= {"list": "companies", "autocomplete": "off"}
        self.known: Company | None = None
        if self.is_bound and crew is None:
            self._ask_which(str(self.data.get("company", "")))

    def _ask_which(self, name: str) -> None:
        """A company of nearly this name works for the builder: which one is meant is asked."""
        self.known = find_company(self.builder, name)
        alike = find_alike(self.builder, name) if self.known is None else []
        if not alike:
            return
        choices = [(str(one.pk), _("It is %(name)s") % {"name": one.name}) for one in alike]
        self.fields["same"] = forms.ChoiceField(
            label=_("Is it a company that you know?"),
            choices=[*choices, (ANOTHER, _("It is another company"))],
            widget=forms.RadioSelect,
            error_messages={"required": _("You know a company of nearly this name. Say which is meant.")},
        )
        self.order_fields(["company", "same"])

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields as they belong together, for the template."""
        parts = (
            (_("The company"), ("company", "same", "company_phone")),
            (_("The crew"), ("trade", "name", "calendar", "capacity")),
            (_("On the tools"), ("contact_name", "contact_mail", "contact_phone")),
        )
        return [(str(head), [self[one] for one in names if one in self.fields]) for head, names in parts]

    def companies(self) -> list[str]:
        """Names to choose from while typing: companies that work for the builder."""
        return list(companies_of(self.builder).values_list("name", flat=True))

    def clean(self) -> dict[str, Any]:
        """Who is named has an address: messages and the link need one."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        if "contact_mail" in data and "contact_name" in data:
            if data["contact_name"] and not data["contact_mail"]:
                words = _(
                    "Give the address too. If there is none, leave the name empty and ring the company."
                )
                self.add_error("contact_mail", words)
            elif data["contact_mail"] and not data["contact_name"]:
                self.add_error("contact_name", _("Say whose address this is."))
        if data.get("contact_phone") and not data.get("contact_name") and not self.errors:
            self.add_error("contact_phone", _("Say whose number this is, or enter it as the company's."))
        return data

    def chosen_company(self) -> Company | str:
        """The company that is meant: one that works for the builder, or the name of a new one."""
        same = self.cleaned_data.get("same", "")
        if self.known is None and same.isdecimal():
            return companies_of(self.builder).get(pk=int(same))
        return self.known or str(self.cleaned_data["company"])

    def entry(self) -> CrewEntry:
        """What was entered."""
        data = self.cleaned_data
        return CrewEntry(
            name=data["name"],
            trade=data["trade"],
            calendar=data["calendar"],
            capacity=data["capacity"],
            company_phone=data["company_phone"].strip(),
            contact_name=" ".join(data["contact_name"].split()),
            contact_mail=data["contact_mail"].lower(),
            contact_phone=data["contact_phone"].strip(),
        )

    def refuse(self, refusal: BadInput) -> None:
        """Put a refusal at the field that it names, else above all."""
        self.add_error(refusal.where if refusal.where in self.fields else None, refusal.words)


def kept_of(crew: Crew) -> dict[str, Any]:
    """What is kept of a crew, as its form shows it."""
    contact = crew.contact
    return {
        "company": crew.company.name,
        "company_phone": crew.company.phone,
        "trade": crew.trade_id,
        "name": crew.name,
        "calendar": crew.calendar_id,
        "capacity": crew.capacity,
        "contact_name": contact.name if contact else "",
        "contact_mail": contact.email if contact else "",
        "contact_phone": contact.phone if contact else "",
    }


class MemberForm(forms.Form):
    """Who works in a crew: somebody whom the builder knows, or somebody new."""

    person = forms.ModelChoiceField(
        label=_("Somebody you know"),
        queryset=Person.objects.none(),
        required=False,
        empty_label=_("nobody of these"),
    )
    name = forms.CharField(label=_("Or somebody new: name"), max_length=120, required=False)
    mail = forms.EmailField(label=_("and e-mail"), max_length=254, required=False)

    def __init__(self, builder: Builder, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast("forms.ModelChoiceField[Person]", self.fields["person"]).queryset = may_join(builder)

    def refuse(self, refusal: BadInput) -> None:
        """Put a refusal at the field that it names, else above all."""
        self.add_error(refusal.where if refusal.where in self.fields else None, refusal.words)


class WordTimeForm(forms.Form):
    """Half-days between release and start that the crew needs."""

    word_time = forms.IntegerField(
        label=_("Word time, in half-days"),
        min_value=0,
        max_value=40,
        required=False,
        help_text=_("Between a release and the crew's start. Empty: as each sequence says."),
    )


class ReserveForm(forms.Form):
    """Time agreed with a crew, no house named."""

    first = HalfDayField(label=_("From"), what=str(_("From")))
    last = HalfDayField(label=_("To, last half-day"), what=str(_("To")))
    units = forms.IntegerField(label=_("Houses at once"), min_value=1, max_value=20, initial=1)

    def clean(self) -> dict[str, Any]:
        """The run must have a length."""
        data: dict[str, Any] = super().clean() or self.cleaned_data
        first, last = data.get("first"), data.get("last")
        if first is not None and last is not None and last < first:
            self.add_error("last", _("It ends before it begins. Correct one of the two."))
        return data
