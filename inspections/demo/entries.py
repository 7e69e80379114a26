"""What a mechanic of the invented plant types beside the alignment: run-out, feet and shims, hubs, wear, lubricant."""

from __future__ import annotations

from datetime import timedelta

from couplings.models import StockLot
from inspections.demo.readings import HOURS, Hand
from inspections.demo.stories import Work
from inspections.models import Visit
from inspections.steps.softfoot import feet_under, machines_of
from plant import units

Fields = dict[str, str]
SIDES = ("driver", "driven")
# What is looked for first on each family, of fixtures/starters/wear_codes.json.
FIRST_CODE = {
    "elastomer-shear": "crack", "elastomer-shear-spacer": "crack", "elastomer-compression": "crack", "tyre": "crack",
    "pin-and-bush": "bush-and-pin", "gear": "tooth-surface", "grid": "grid-wear", "disc": "fretting",
    "rigid": "fretting",
}  # fmt: skip
# Key by bore: DIN 6885-1, form A (from memory), width and height. [mm]
KEYS = {48.0: (14.0, 9.0), 65.0: (18.0, 11.0)}
GREASE_GRADE = "1"


def run_out(visit: Visit, hand: Hand, dial: str) -> Fields:
    """Of the hubs, as a total; of a rigid coupling's shafts all round, which is how it is left."""
    version, fields = visit.sheet_version, Fields()
    rigid = version.sheet.family.kind == "rigid"
    for side in SIDES:
        at = f"{side}_shaft" if rigid else f"{side}_hub"
        across = version.bore_mm if rigid else version.hub_diameter_mm
        fields[f"{at}.diameter"] = hand.size(across or 0.0)
        fields[f"{at}.dial"] = dial
        if not rigid:
            fields[f"{at}.tir"] = hand.gap(0.02)
            continue
        # High on one side by a few hundredths, read at four points of the compass.
        for hour, off in zip(HOURS, (0.0, 0.01, 0.02, 0.01), strict=True):
            fields[f"{at}.{hour}"] = hand.gap(off)
    return fields


def feet(visit: Visit, hand: Hand, shims_mm: tuple[float, ...], rises: bool) -> Fields:
    """Soft foot by the rise of each foot, and the shims under it; the machine stands flat within the site's limit."""
    fields = {"method": "rises"} if rises else Fields()
    for side, machine in machines_of(visit):
        for foot in feet_under(side, machine):
            if rises:
                fields[f"{foot.at}.rise"] = hand.gap(0.01 + 0.01 * hand.chance.random())
            fields[f"{foot.at}.shims"] = " + ".join(hand.shim(one) for one in shims_mm)
    return {name: text.replace("-0", "0") if text.startswith("-") else text for name, text in fields.items()}


def mounting(visit: Visit, hand: Hand, gauge: str) -> Fields:
    """Both hubs cleaned, bore and shaft measured by the site's inside micrometer, the key found."""
    bore, fields = visit.sheet_version.bore_mm, Fields()
    for side in SIDES:
        fields[f"{side}.cleaned"] = "yes"
        if bore is None or not gauge:
            continue
        # Within H7 and k6 of these sizes.
        fields[f"{side}.bore"] = f"{bore + 0.010 + 0.002 * hand.chance.randint(0, 3):.3f}"
        fields[f"{side}.shaft"] = f"{bore + 0.006 + 0.002 * hand.chance.randint(0, 3):.3f}"
        fields[f"{side}.bore_gauge"] = fields[f"{side}.shaft_gauge"] = gauge
        if key := KEYS.get(bore):
            fields[f"{side}.key_width"], fields[f"{side}.key_height"] = (f"{one:g}" for one in key)
    return fields


def wear(visit: Visit, worn: str | dict[str, str]) -> Fields:
    grades = worn if isinstance(worn, dict) else {FIRST_CODE[visit.sheet_version.sheet.family.code]: worn}
    return {f"{code}.grade": grade for code, grade in grades.items()}


def lubricant(visit: Visit, first: bool) -> Fields:
    """Filled at the installation, renewed each year."""
    version = visit.sheet_version
    fields = {
        "act": "renewed",
        "name": version.lubricant or "coupling grease, grade 1",
        "quantity": units.written(version.lubricant_g or 300.0, "mass", visit.site.units),
        "consistency": GREASE_GRADE,
    }
    return fields if first else fields | {"state": "darkened"}


def element(visit: Visit, work: Work) -> Fields:
    version = visit.sheet_version
    if not work.element:
        return {"act": "kept"}
    fields = {"act": "fitted"}
    if work.lot:
        part, _, batch = work.lot.rpartition("/")
        fields["lot"] = str(StockLot.objects.get(site=visit.site, part_number=part, batch=batch).uuid)
    else:
        fields |= {"part_number": version.element_part, "batch": f"{visit.on:%y}{visit.on.month:02d}"}
        if version.sheet.family.ages:
            fields["cured_on"] = (visit.on - timedelta(days=work.cured_days)).isoformat()
    if work.element != "new":
        fields |= {"removal_reason": work.element, "went_to": work.went_to}
        fields |= {"removal_code": work.code} if work.code else {}
        fields |= {"went": work.went} if work.went else {}
    return fields
