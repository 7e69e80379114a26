"""Visits of the invented plant besides the measuring ones: a breakdown, an old card, a paper typed in later, walks past
running machines, run-ups accepted and not; with a witness's look and a photo. All by the services, each at its instant.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, datetime, time, timedelta
from functools import partial
from io import BytesIO

from PIL import Image, ImageDraw

from couplings.models import Coupling
from inspections.demo.outings import Crew, morning, working_day
from inspections.demo.stories import Outing, Work
from inspections.models import Flag, Visit
from inspections.services.drafts import begin_visit, save_entry
from inspections.services.flags import clear_flag
from inspections.services.photos import add_photo
from inspections.services.runups import accept_run_up
from inspections.services.signing import sign_visit
from inspections.services.walks import look_in_passing
from inspections.services.witnessing import hand_over
from plant.models import Person
from plant.recording import recording
from plant.sitetime import site_time

SITE = "Greyfen Works"
USUAL = {"noise": "usual", "below": "nothing", "leak": "none"}
# (days ago, by whom, what was odd where; everything else was as always)
WALKED = ("CW-11", "CW-12", "SL-51", "AG-31-1", "AG-31-2")
WALKS: tuple[tuple[int, str, dict[str, dict[str, str]]], ...] = (
    (9, "mia", {}),
    (2, "mia", {"CW-12": {"below": "some", "odd": "black dust on the base plate, more than a week ago"}}),
)
BROKE_DAYS, CLEARED_DAYS = 214, 190
BROKEN = {
    "noticed": "Knocking for a minute, then the pump ran down while the motor went on; it smelt of hot rubber.",
    "photos": "before", "part": "insert, teeth of the driver side", "went": "evidence",
    "went_to": "reliability shelf", "hours_down": "31",
}  # fmt: skip
OLD_CARD_DAYS, TYPED_DAYS = 1060, 470
OLD_CARD = {
    "source": "Blue folder 3, sheet 14, in the foreman's room",
    "done": "Aligned with two dials after the pump came back from the shop; tyre left in.",
    "said_verdict": "within 5 hundredths", "offset": "0.05",
}  # fmt: skip
PAPER_DAYS = 150
PAPER_AT = (0.060, -0.055, 0.19, -0.12)
PAPER_ISOLATION = "Permit P-6077; tried dead by Jon at 07:20, as the card says"
# (days ago, coupling, by whom, what was written down)
RUN_UPS: tuple[tuple[int, str, str, dict[str, str]], ...] = (
    (96, "BF-22", "jon", {"outcome": "remarks", "driver_vibration": "2.4", "current": "31",
                          "remarks": "Warmer at the inboard bearing than its sister; look again next year."}),
    (43, "FN-41", "ana", {"outcome": "refused", "driver_vibration": "5.6", "driven_vibration": "3.9",
                          "remarks": "5.6 mm/s at the motor: run down again, hold-down bolts to be looked at."}),
    (40, "FN-41", "ana", {"outcome": "accepted", "driver_vibration": "2.1", "driven_vibration": "1.8"}),
    (10, "AG-31-1", "jon", {"outcome": "accepted", "driver_vibration": "1.2", "noise": "usual"}),
)  # fmt: skip


def acts(crew: Crew, people: dict[str, Person], today: date) -> Iterator[tuple[date, int, Callable[[], None]]]:
    """(day, order within it, act) of everything here at the couplings that are there; nothing at another site."""
    if crew.site.name != SITE:
        return
    there = set(crew.places)

    def on(days: int) -> date:
        return working_day(today - timedelta(days=days))

    if "SL-51" in there:
        yield on(BROKE_DAYS), 3, partial(_break_down, crew, people["mia"], on(BROKE_DAYS))
        yield on(CLEARED_DAYS), 3, partial(_understand, crew, people["ana"], on(CLEARED_DAYS))
    if "CW-11" in there:
        yield on(TYPED_DAYS), 4, partial(_old_card, crew, people["jon"], on(TYPED_DAYS), on(OLD_CARD_DAYS))
    if "FN-41" in there:
        yield on(PAPER_DAYS - 3), 3, partial(_paper, crew, people, on(PAPER_DAYS - 3), on(PAPER_DAYS))
    for days, by, odd in WALKS:
        tags = [tag for tag in WALKED if tag in there]
        yield on(days), 3, partial(_walk, crew, people[by], on(days), tags, odd)
    for days, tag, by, fields in RUN_UPS:
        if tag in there:
            yield on(days), 3, partial(_run_up, crew, people[by], on(days), tag, fields)


def _coupling(crew: Crew, tag: str) -> Coupling:
    return Coupling.objects.select_related("site", "train").get(site=crew.site, tag=tag)


def _break_down(crew: Crew, by: Person, on: date) -> None:
    day = morning(crew.site, on)
    order = crew.order(Outing(0, "SL-51", by.username, "Pump stands still", (Work("SL-51", "breakdown"),)), day, by)
    with recording(by=by, at=day.at(12)):
        visit = begin_visit(coupling=_coupling(crew, "SL-51"), kind="breakdown", on=on, work_order=order)
        add_photo(visit=visit, file=drawn_insert(), step="breakdown", caption="the insert as it lay below the guard")
        save_entry(visit=visit, step="breakdown", fields=BROKEN | {"failed_at": day.written(-130)}, seen=None)
        hand_over(visit=visit, text="Parts bagged and labelled; the base plate is not cleaned.", to="late shift")
    with recording(by=by, at=day.at(40)):
        sign_visit(visit=visit)
    crew.finish(order, day, by, 60)


def _understand(crew: Crew, by: Person, on: date) -> None:
    flag = Flag.objects.get(coupling__site=crew.site, coupling__tag="SL-51", kind=Flag.Kind.BREAKDOWN)
    with recording(by=by, at=morning(crew.site, on).at(90)):
        clear_flag(flag=flag, cause="The insert had hardened in store, beyond its shelf life.")


def _old_card(crew: Crew, by: Person, on: date, then: date) -> None:
    with recording(by=by, at=morning(crew.site, on).at(300)):
        visit = begin_visit(
            coupling=_coupling(crew, "CW-11"), kind="legacy", on=then,
            taken_at=site_time(crew.site, datetime.combine(then, time(12))),
        )  # fmt: skip
        save_entry(visit=visit, step="stated", fields=OLD_CARD, seen=None)
        sign_visit(visit=visit)


def _paper(crew: Crew, people: dict[str, Person], on: date, then: date) -> None:
    """Jon's card of three days ago; Mia types it in."""
    worked, by = morning(crew.site, then), people["mia"]
    order = crew.order(Outing(0, "FN-41", "jon", "Alignment, phones left outside", ()), worked, people["jon"])
    crew.finish(order, worked, people["jon"], 200)
    with recording(by=by, at=morning(crew.site, on).at(200)):
        visit = begin_visit(
            coupling=_coupling(crew, "FN-41"), kind="alignment", on=then, work_order=order, taken_by=people["jon"],
            taken_at=worked.at(60), from_paper=True, paper_isolation=PAPER_ISOLATION,
        )  # fmt: skip
        found = crew.survey(visit, PAPER_AT, worked, 60, "card")
        save_entry(visit=visit, step="as-found", fields=found, seen=None)
        save_entry(visit=visit, step="as-left", fields={"same_as": "as-found"}, seen=None)
        sign_visit(visit=visit)


def _walk(crew: Crew, by: Person, on: date, tags: list[str], odd: dict[str, dict[str, str]]) -> None:
    day = morning(crew.site, on)
    for place, tag in enumerate(tags):
        with recording(by=by, at=day.at(30 + place)):
            look_in_passing(coupling=_coupling(crew, tag), fields=USUAL | odd.get(tag, {}))


def _run_up(crew: Crew, by: Person, on: date, tag: str, fields: dict[str, str]) -> None:
    day = morning(crew.site, on)
    work = Visit.objects.filter(coupling__site=crew.site, coupling__tag=tag, on__lte=on, state=Visit.State.SIGNED)
    visit = work.exclude(kind__in=("running", "legacy")).latest("on", "pk")
    with recording(by=by, at=day.at(150)):
        accept_run_up(visit=visit, fields=fields | {"ran_at": f"{on} {day.written(120)}", "running": "2"})


def drawn_insert() -> BytesIO:
    """A drawing in the place of a photo: a ring of eight teeth, three of them gone. The same each time."""
    image = Image.new("RGB", (480, 360), (214, 208, 196))
    pen = ImageDraw.Draw(image)
    pen.ellipse((120, 60, 360, 300), outline=(40, 38, 34), width=14)
    teeth: list[tuple[int, int]] = [
        (225, 45),
        (325, 85),
        (365, 165),
        (325, 255),
        (225, 295),
        (125, 255),
        (85, 165),
        (125, 85),
    ]
    for number, (x, y) in enumerate(teeth):
        if number not in (1, 2, 3):
            pen.rectangle((x, y, x + 30, y + 30), fill=(196, 160, 40), outline=(40, 38, 34), width=3)
    for x, y in ((60, 320), (150, 335), (400, 320)):
        pen.polygon([(x, y), (x + 26, y - 10), (x + 30, y + 14)], fill=(196, 160, 40), outline=(40, 38, 34))
    file = BytesIO()
    image.save(file, "PNG")
    file.seek(0)
    return file
