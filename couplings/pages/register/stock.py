"""Elements in store: lots, what moved, how old they are by the site's rule."""

from datetime import date
from typing import Any

from django.db.models import Q
from django.utils import timezone

from couplings.engineering.conformity import NOT_KNOWN as UNKNOWN
from couplings.engineering.pairs import CLOSE, IN, OUT
from couplings.models import StockLot, StockMovement
from couplings.selectors import storage_ages
from couplings.selectors.stock import give_ages, lots_by_verdict
from couplings.services import stock
from plant.pages.register import Act, Column, Field, Filter, Noun, Part, Place, add_noun, by_site, yes_or_no
from plant.pages.register import lazily as _
from plant.sitetime import today_at

WRITES = "stock.write"


def _create(at: Place, /, **given: Any) -> StockLot:
    assert at.site is not None
    return stock.receive_stock(site=at.site, **given)


def _change(root: StockLot, expected: int | None, /, **given: Any) -> StockLot:
    return stock.change_lot(lot=root, expected=expected, **given)


def _moving(kind: str) -> Any:
    def move(root: StockLot, expected: int | None, *, on: date | None = None, **given: Any) -> None:
        stock.move_stock(lot=root, kind=kind, on=on, expected=expected, **given)

    return move


def _moved(_request: Any, lot: StockLot) -> dict[str, Any]:
    age = storage_ages([lot], today_at(lot.site, timezone.now()))[0]
    return {"movements": lot.movements.select_related("by").order_by("-pk")[:50], "age": age}


def _age_words(lot: Any) -> str:
    return str(_IN_WORDS[lot.age.verdict]) if lot.age is not None else str(_("age not known"))


def _of_age(rows: Any, asked: str) -> Any:
    verdict = {"over": OUT, "first": CLOSE, "within": IN, "unknown": UNKNOWN}[asked]
    found = lots_by_verdict(list(rows), timezone.now(), verdict)
    return rows.filter(pk__in=[lot.pk for lot in found])


AGES = (
    ("over", _("over age")),
    ("first", _("past their first period")),
    ("within", _("within their age")),
    ("unknown", _("of unknown age")),
)
_IN_WORDS = {
    OUT: _("over age: not to be fitted"),
    CLOSE: _("past the first period: to be inspected"),
    IN: _("within its age"),
    UNKNOWN: _("age not known"),
}
ON = Field("on", _("On, where it was not today"), "date")
NOTE = Field("note", _("Note"), "text")
NUMBER = Field("number", _("How many"), "count", required=True)

add_noun(
    Noun(
        key="stock",
        one=_("lot"),
        many=_("elements in store"),
        what=_("Elements in store by part, batch and cure date: how many, and whether they may still be fitted."),
        model=StockLot,
        related=lambda rows: rows.select_related("site"),
        columns=(
            Column("part", _("Part number"), lambda lot: lot.part_number, sort=("part_number", "cured_on")),
            Column("batch", _("Batch"), lambda lot: lot.batch, sort=("batch",)),
            Column("cured", _("Cure date"), lambda lot: lot.cured_on, sort=("cured_on",)),
            Column("age", _("Today, by the storage rule"), _age_words),
            Column("count", _("In store"), lambda lot: lot.count, kind="count", sort=("-count",)),
            Column("place", _("Where"), lambda lot: lot.place, sort=("place",)),
            Column("site", _("Site"), lambda lot: lot.site.name, sort=("site__name",)),
        ),
        ready=lambda lots: give_ages(lots, timezone.now()),
        order=("part_number", "cured_on"),
        search=("part_number", "batch", "place"),
        search_words=_("part, batch or where they lie"),
        filters=(
            by_site(),
            Filter("age", _("which are"), _("of any age"), lambda _person: AGES, _of_age),
            yes_or_no("left", _("with"), _("some or none left"), _("some left"), _("none left"), Q(count__gt=0)),
        ),
        empty=_("Nothing is in store yet. Receive elements with their part number and cure date."),
        fields=(
            Field("part_number", _("Part number"), "text", required=True),
            Field("batch", _("Batch"), "text"),
            Field("cured_on", _("Cure date"), "date", hint=_("As marked on the part.")),
            Field("number", _("How many came"), "count", required=True, told=False, value=lambda lot: None),
            Field("on", _("Received on, where it was not today"), "date", told=False, value=lambda lot: None),
            Field("polymer", _("Polymer"), "text", hint=_("ISO 1629 letters; empty: as the data sheets say.")),
            Field("place", _("Where they lie"), "text"),
            Field("note", _("Note"), "text", told=False, value=lambda lot: ""),
        ),
        parts=(Part(_("In and out"), "couplings/register/movements.html", _moved),),
        action=WRITES,
        create=_create,
        acts=(
            Act(key="change", label=_("Correct where they lie"), do=_change, action=WRITES, filled=True,
                fields=(Field("polymer", _("Polymer"), "text"), Field("place", _("Where they lie"), "text")),
                done=_("%(row)s is corrected.")),
            Act(key="receive", label=_("Receive more"), do=_moving(StockMovement.Kind.RECEIPT), action=WRITES,
                fields=(NUMBER, ON, NOTE), done=_("%(row)s: received.")),
            Act(key="issue", label=_("Issue some"), do=_moving(StockMovement.Kind.ISSUE), action=WRITES,
                fields=(NUMBER, ON, NOTE), offered=lambda lot: lot.count > 0, done=_("%(row)s: issued.")),
            Act(key="count", label=_("Correct the count"), do=_moving(StockMovement.Kind.CORRECTION), action=WRITES,
                fields=(Field("number", _("How many were counted"), "count", required=True), ON,
                        Field("note", _("Why it differs"), "text", required=True)),
                done=_("%(row)s: counted.")),
            Act(key="scrap", label=_("Scrap some"), do=_moving(StockMovement.Kind.SCRAPPED), action=WRITES,
                why=_("Over their age, or not to be fitted for another reason."),
                fields=(NUMBER, ON, Field("note", _("Why"), "text", required=True)),
                offered=lambda lot: lot.count > 0, done=_("%(row)s: scrapped.")),
        ),
    )
)  # fmt: skip
