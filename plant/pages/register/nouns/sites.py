"""Sites: the keeper's part is the form, how measurements are judged is the engineer's."""

from typing import Any

from plant.models import Person, Site
from plant.pages.register.lazy import lazily as _
from plant.pages.register.registry import Act, Column, Field, Noun, Place, add_noun
from plant.services import register

KEPT = (
    Field("name", _("Name"), "text", required=True, group=_("The site")),
    Field(
        "zone", _("Time zone"), "text", required=True, group=_("The site"), starter="UTC",
        hint=_("By its name, such as Europe/Oslo. It decides the site’s days."),
    ),
    Field(
        "units", _("Units"), "choice", required=True, group=_("The site"), choices=tuple(Site.Units.choices),
        starter="metric", hint=_("In which pages show numbers, and take those typed without a unit."),
    ),
    Field("currency", _("Currency"), "text", required=True, group=_("Cost and dates"), starter="EUR",
          hint=_("Three letters.")),
    Field("labour_rate", _("Cost of one crew hour"), "number", group=_("Cost and dates"),
          hint=_("In the currency above.")),
    Field("element_cost", _("Price of one element"), "number", group=_("Cost and dates"),
          hint=_("The usual one, the part alone.")),
    Field("failure_cost", _("Cost of a failure in service"), "number", group=_("Cost and dates"),
          hint=_("Of an element, beside the part and the hours to fit it.")),
    Field("down_cost", _("Cost of one hour down"), "number", group=_("Cost and dates"),
          hint=_("Of a train that stands.")),
    Field("crew_hours_week", _("Crew hours for checks in a week"), "number", group=_("Cost and dates"),
          hint=_("All hands together.")),
    Field("dates_owner", _("Dates are kept by"), "choice", required=True, group=_("Cost and dates"),
          choices=tuple(Site.DatesOwner.choices), starter="here"),
)  # fmt: skip
JUDGED = (
    Field("confidence", _("Probability asked for"), "number", required=True, group=_("Verdicts"),
          hint=_("Before “in tolerance” is said: 0.5 to 0.999.")),
    Field("closure_limit_mm", _("Closure that is doubted"), "gap", required=True, group=_("Readings"),
          hint=_("Of four dial readings. 0.002 in: FIST 2-1 p. 22.")),
    Field("reading_u_mm", _("Uncertainty of one dial reading"), "gap", required=True, group=_("Readings"),
          hint=_("Standard uncertainty where none is given. Common practice.")),
    Field("reference_degc", _("Reference temperature"), "temperature", required=True, group=_("Readings"),
          hint=_("Of all supports; surveys are corrected to it.")),
    Field("support_material", _("Frames and pedestals"), "choice", required=True, group=_("Readings"),
          choices=tuple(Site.SupportMaterial.choices), hint=_("Where a machine does not say its own.")),
    Field("engagement_share", _("Least share of the bore on the shaft"), "share", required=True, group=_("Limits"),
          hint=_("Common practice: 80 %.")),
    Field("soft_foot_limit_mm", _("Soft foot"), "gap", required=True, group=_("Limits"),
          hint=_("Rise of a foot or gap under it. Common practice; published 0.025 to 0.05 mm.")),
    Field("pipe_strain_limit_mm", _("Pipe strain"), "gap", required=True, group=_("Limits"),
          hint=_("Movement of the shaft at the coupling. 0.002 in, API RP 686 from memory: compare with your copy.")),
    Field("shaft_run_out_table", _("Run-out of shafts by"), "choice", required=True, group=_("Limits"),
          choices=tuple(Site.RunOutTable.choices)),
    Field("hub_run_out_table", _("Run-out of hubs by"), "choice", required=True, group=_("Limits"),
          choices=tuple(Site.RunOutTable.choices)),
    Field("shim_stock_mm", _("Thinnest shim in stock"), "gap", required=True, group=_("Shims"),
          hint=_("Advice is rounded to it.")),
    Field("shims_most", _("Shims under one foot, at most"), "count", required=True, group=_("Shims"),
          hint=_("Published: 3 to 5.")),
)  # fmt: skip


def _create(_place: Place, **given: Any) -> Site:
    return register.register_site(**given)


def _change(root: Site, expected: int | None, **given: Any) -> Site:
    return register.change_site(site=root, expected=expected, **given)


def _whole_installation(person: Person) -> bool:
    return person.is_superuser and person.is_active


add_noun(
    Noun(
        key="sites",
        one=_("site"),
        many=_("sites"),
        what=_("A plant with one clock, one set of units and one way to judge."),
        model=Site,
        columns=(
            Column("name", _("Name"), lambda site: site.name, sort=("name",)),
            Column("zone", _("Time zone"), lambda site: site.zone, sort=("zone",)),
            Column("units", _("Units"), lambda site: site.get_units_display()),
            Column("dates_owner", _("Dates are kept by"), lambda site: site.get_dates_owner_display()),
        ),
        order=("name",),
        search=("name", "zone"),
        search_words=_("the name or the zone"),
        empty=_("You have a role at no site yet: ask the keeper of the register."),
        fields=KEPT,
        create=_create,
        change=_change,
        may_create=_whole_installation,
        at_a_site=False,
        acts=(
            Act(
                key="judging",
                label=_("Set how measurements are judged"),
                why=_("What is signed from now on is judged by this; what was signed keeps what it was judged by."),
                do=_change,
                fields=JUDGED,
                action="policy.write",
                filled=True,
            ),
        ),
    )
)
