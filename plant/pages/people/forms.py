"""Forms about people. What they mean is checked by the services; here they are only read."""

from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.models import Membership, Site

DAY = {"invalid": gettext_lazy("Write the day as 2026-10-12.")}
ROLES = [choice for choice in Membership.Role.choices if choice[0] != Membership.Role.CLIENT]


def day_field(label: Any, **options: Any) -> forms.DateField:
    """A day as text: a date field of the browser throws away what was mistyped."""
    options.setdefault("required", False)
    words = DAY | {"required": gettext_lazy("Say on which day, such as 2026-10-12.")}
    return forms.DateField(
        label=label,
        input_formats=["%Y-%m-%d"],
        widget=forms.DateInput(format="%Y-%m-%d", attrs={"autocomplete": "off", "placeholder": "2026-10-12"}),
        error_messages=words,
        **options,
    )


def secret_field(label: Any, autocomplete: str, **options: Any) -> forms.CharField:
    """A password, as typed: its spaces belong to it."""
    widget = forms.PasswordInput(attrs={"autocomplete": autocomplete})
    return forms.CharField(label=label, max_length=128, strip=False, widget=widget, **options)


class AtSitesForm(forms.Form):
    """A form with one of the sites that whoever fills it keeps."""

    site = forms.ModelChoiceField(
        queryset=Site.objects.none(), to_field_name="uuid", empty_label=None, label=gettext_lazy("Site")
    )

    def __init__(self, *args: Any, sites: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].queryset = sites  # type: ignore[attr-defined]


class RoleForm(AtSitesForm):
    role = forms.ChoiceField(choices=Membership.Role.choices, label=gettext_lazy("Role"))
    from_on = day_field(gettext_lazy("First day"), required=True)
    until_on = day_field(gettext_lazy("Last day"), help_text=gettext_lazy("A contractor needs one."))


class InviteForm(AtSitesForm):
    role = forms.ChoiceField(choices=ROLES, label=gettext_lazy("Role"))
    email = forms.CharField(
        label=gettext_lazy("E-mail address"),
        required=False,
        max_length=254,
        widget=forms.TextInput(attrs={"inputmode": "email", "autocomplete": "off"}),
    )
    employer = forms.CharField(
        label=gettext_lazy("Employer"),
        required=False,
        max_length=80,
        help_text=gettext_lazy("For contractors: crew lists name them with it."),
    )
    until_on = day_field(gettext_lazy("Last day of the role"), help_text=gettext_lazy("A contractor needs one."))
    language = forms.ChoiceField(choices=settings.LANGUAGES, label=gettext_lazy("Language"))


class PersonForm(forms.Form):
    """What a keeper may correct."""

    first_name = forms.CharField(max_length=150, label=gettext_lazy("First name"))
    last_name = forms.CharField(max_length=150, required=False, label=gettext_lazy("Last name"))
    email = forms.CharField(max_length=254, required=False, label=gettext_lazy("E-mail address"))
    employer = forms.CharField(max_length=80, required=False, label=gettext_lazy("Employer"))
    until_on = day_field(
        gettext_lazy("Last day"),
        help_text=gettext_lazy("After it nobody comes in under this name, at any site."),
    )


class LeaveForm(forms.Form):
    on = day_field(gettext_lazy("Last day here"), required=True)
    to = forms.ChoiceField(label=gettext_lazy("Flags go to"), required=False)

    def __init__(self, *args: Any, others: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.others = {str(one.uuid): one for one in others}
        people = [(key, str(one)) for key, one in self.others.items()]
        self.fields["to"].choices = [("", _("nobody yet")), *people]  # type: ignore[attr-defined]


class AccountForm(forms.Form):
    first_name = forms.CharField(max_length=150, label=gettext_lazy("First name"))
    last_name = forms.CharField(max_length=150, required=False, label=gettext_lazy("Last name"))
    email = forms.CharField(max_length=254, required=False, label=gettext_lazy("E-mail address"))
    language = forms.ChoiceField(choices=settings.LANGUAGES, label=gettext_lazy("Language"))


class TwiceForm(forms.Form):
    """A password, typed twice."""

    password = secret_field(
        gettext_lazy("New password"),
        "new-password",
        help_text=gettext_lazy("At least 10 characters. A sentence of your own is easier to keep than signs."),
    )
    again = secret_field(gettext_lazy("The same once more"), "new-password")

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("password") and given.get("again") and given["password"] != given["again"]:
            self.add_error("again", _("This is not the same as above."))
        return given


class PasswordForm(TwiceForm):
    old = secret_field(gettext_lazy("Your password until now"), "current-password")
    field_order = ["old", "password", "again"]


class AcceptForm(TwiceForm):
    first_name = forms.CharField(max_length=150, label=gettext_lazy("First name"))
    last_name = forms.CharField(max_length=150, required=False, label=gettext_lazy("Last name"))
    username = forms.CharField(
        max_length=150,
        label=gettext_lazy("Name to sign in with"),
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    field_order = ["first_name", "last_name", "username", "password", "again"]


class ForgottenForm(forms.Form):
    email = forms.EmailField(label=gettext_lazy("Your e-mail address"))
