"""What a service refused, beside the fields of a plain form."""

from collections.abc import Mapping

from django import forms

from plant.refusals import Refusal


def add_refusal(form: forms.BaseForm, refusal: Refusal, names: Mapping[str, str] | None = None) -> None:
    """Put each message at its field; `names` translates a service's field into the form's; the rest goes above."""
    for field, message in refusal.as_dict().items():
        name = (names or {}).get(field, field)
        form.add_error(name if name in form.fields else None, message)
