"""What changing a setting of a site touches, said before and after it is changed."""

from django.utils.translation import gettext_lazy

TOUCHES = {
    "name": gettext_lazy("Shown everywhere from now on; signed records keep the name they were signed under."),
    "zone": gettext_lazy(
        "Moves where a day begins here: what counts as due or overdue today, and the nightly run. Instants already "
        "recorded stay; visits keep the zone they were written in."
    ),
    "units": gettext_lazy(
        "Numbers are shown and taken in these units from now on. What was recorded does not change, only how it is "
        "printed."
    ),
    "currency": gettext_lazy("Costs are named in it, by its code in ISO 4217. Nothing entered before is converted."),
    "labour_rate": gettext_lazy("What a crew hour costs here, wherever hours are told as money."),
    "element_cost": gettext_lazy("What an element counts for where costs are told."),
    "failure_cost": gettext_lazy("Moves the age at which replacing elements pays."),
    "down_cost": gettext_lazy("What hours down count for where costs are told."),
    "crew_hours_week": gettext_lazy("What the hours planned for a week are held against, on the page of weeks."),
    "dates_owner": gettext_lazy(
        "Says which system’s due dates count at this site. Open checks take them at once: a date that the work-order "
        "system gave counts while it owns the dates, and no longer."
    ),
}


def touched(fields: set[str]) -> list[str]:
    """The sentence of each of these settings, in the order of the form."""
    return [str(words) for name, words in TOUCHES.items() if name in fields]
