"""What a register can have done to it over the API: for every noun that is read as a delta, acts drawn at random.

An act answers with method, address and body. Which rows it is about is drawn too, and nothing is kept sensible: what
the program refuses changes nothing, and the reader has to see that as well.
"""

from datetime import timedelta

from django.db.models import Q
from django.utils import timezone

from couplings.models import Coupling, DataSheet, Family, Fit, StockLot, WearCode
from plant.models import Area, Site, Train, UnitStay

API = "/api/v1/"
EMPTY = ~Q(fits__in=Fit.objects.filter(removed_on=None))
RPM = (1490, 2980)
MATERIALS = Site.SupportMaterial.values


def mm(value):
    return {"value": value, "unit": "mm"}


def rpm(value):
    return {"value": value, "unit": "rpm"}


class Draw:
    """One site's register, and the chance that says what happens to it next."""

    def __init__(self, site, chance, models):
        self.site, self.chance, self.models, self.made = site, chance, models, 0

    def no(self):
        self.made += 1
        return self.made

    def any(self, model, **only):
        """The UUID of some row, or of none that there is."""
        rows = getattr(model, "objects", model).filter(**only).order_by("pk")
        rows = list(rows.values_list("uuid", flat=True).distinct())
        return str(self.chance.choice(rows)) if rows else "0f0f0f0f-0000-4000-8000-000000000000"

    def row(self, model):
        rows = list(getattr(model, "objects", model).order_by("pk"))
        return self.chance.choice(rows) if rows else None

    def day(self, most=9):
        return (timezone.now() - timedelta(days=self.chance.randint(0, most))).date().isoformat()

    def instant(self):
        return (timezone.now() - timedelta(hours=self.chance.randint(0, 300))).isoformat()

    def new(self, slug, **body):
        return "post", f"{API}{slug}/", {"site": str(self.site.uuid)} | body

    def word(self):
        return f"word {self.no()}"


def change(slug, **fields):
    """A change of some row: each field drawn by its function."""
    return lambda draw: (
        "patch",
        f"{API}{slug}/{draw.any(draw.models[slug])}/",
        {name: value(draw) if callable(value) else value for name, value in fields.items()},
    )


def remove(slug):
    return lambda draw: ("delete", f"{API}{slug}/{draw.any(draw.models[slug])}/", None)


def act(slug, name, only=None, **fields):
    """Something done to some row, or to one of those that `only` says."""
    return lambda draw: (
        "post",
        f"{API}{slug}/{draw.any(draw.models[slug], **(only or {}))}/{name}/",
        {key: value(draw) if callable(value) else value for key, value in fields.items()},
    )


def table(slug, new, **changed):
    """A table of the site: a row more, a figure changed, a row out."""
    return [lambda draw: draw.new(slug, source="invented", **new(draw)), change(slug, **changed), remove(slug)]


def _train(draw):
    machines = [
        {"position": position, "name": name, "role": role, "speed": rpm(1490)}
        for position, name, role in ((1, "motor", "driver"), (2, "pump", "driven"))
    ]
    return draw.new("trains", area=draw.any(Area), tag=f"T-{draw.no()}", machines=machines)


def _renamed_machines(draw):
    """The whole list of some train's machines with one renamed: couplings print their names."""
    train = draw.row(Train)
    if train is None:
        return change("trains", name="x")(draw)
    machines = [
        {"position": one.position, "name": draw.word(), "role": one.role, "speed": rpm(draw.chance.choice(RPM))}
        for one in train.machines.order_by("position")
    ]
    return "patch", f"{API}trains/{train.uuid}/", {"machines": machines}


def _swap(draw):
    """A unit that stands nowhere takes the place of one that stands somewhere."""
    stay = draw.row(UnitStay.objects.filter(until_at=None))
    if stay is None:
        return act("machine-units", "install", {"stays": None}, at=None, **ONE_PLACE)(draw)
    place = {"train": str(stay.machine.train.uuid), "position": stay.machine.position}
    return act("machine-units", "swap-in", {"stays": None}, at=Draw.instant, reason="x", **place)(draw)


def _stay(draw):
    stay = draw.row(UnitStay)
    if stay is None:
        return act("machine-units", "take-out", STANDS, at=Draw.instant, reason="x")(draw)
    address = f"{API}machine-units/{stay.unit.uuid}/stays/{stay.uuid}/"
    return draw.chance.choice((("patch", address, {"came_with_hub": True}), ("delete", address, None)))


def _version(act_of):
    """An act on the latest version of some sheet, twice as often of the first one, so that it gets further."""

    def drawn(draw):
        sheet = draw.chance.choice((DataSheet.objects.order_by("pk").first(), draw.row(DataSheet)))
        latest = sheet.versions.order_by("-number").first() if sheet is not None else None
        address = f"{API}data-sheets/{sheet.uuid if sheet else draw.any(DataSheet)}/versions/"
        method, name, body = act_of(draw, sheet)
        return method, f"{address}{latest.number if latest else 1}/{name}", body

    return drawn


def _limits(draw, _sheet):
    limit = {"quantity": "offset", "stated_as": "length", "stated": mm(round(draw.chance.uniform(0.05, 0.3), 3))}
    return "patch", "", {"limits": [limit], "note": draw.word()}


def _noted(draw, _sheet):
    return "patch", "", {"note": draw.word()}


def _publish(draw, _sheet):
    today = timezone.now().date().isoformat()
    why = {"reason": "x", "change_number": f"LC-{draw.no()}", "from_on": today}
    return "post", "publish/", draw.chance.choice((why, {}))


def _adopt(draw, sheet):
    return "post", "adopt/", {"fits": [draw.any(Fit, removed_on=None, sheet_version__sheet=sheet)]}


def _free(draw):
    """A place in which nothing is fitted."""
    return draw.any(Coupling.objects.filter(EMPTY), retired_on=None)


def _fit(draw):
    body = {"coupling": _free(draw), "fitted_on": draw.day(30), "serial": f"F-{draw.no()}"}
    body |= {"data_sheet": draw.any(DataSheet, versions__published_at__isnull=False), "data_sheet_version": 1}
    return "post", f"{API}fits/", body | {"hubs": [{"side": "driver", "serial": f"H-{draw.no()}"}]}


def _coupling(draw):
    place = {"train": draw.any(Train), "driver_position": 1, "driven_position": 2}
    return "post", f"{API}couplings/", place | {"tag": f"C-{draw.no()}"}


def _target(draw):
    address = f"{API}couplings/{draw.any(Coupling)}/target/given/"
    return draw.chance.choice((("put", address, {"note": draw.word()}), ("delete", address, None)))


def _of_train(name, only=None, **fields):
    return act("trains", name, only, **fields)


STANDS = {"stays__until_at": None, "stays__isnull": False}
ONE_PLACE = {"train": lambda draw: draw.any(Train), "position": lambda draw: draw.chance.randint(1, 2)}
NUMBERS = {"nut_factor": lambda draw: round(draw.chance.uniform(0.1, 0.3), 3)}

ACTS = {
    "areas": [
        lambda draw: draw.new("areas", name=f"Area {draw.no()}"),
        change("areas", name=Draw.word),
        change("areas", parent=lambda draw: draw.any(Area)),
        remove("areas"),
    ],
    "trains": [
        _train, _renamed_machines, change("trains", criticality=lambda draw: draw.chance.choice("ABC")),
        _of_train("run-hours", at=Draw.instant, hours={"value": 100, "unit": "hour"}),
        _of_train("service", state="out", reason="x"), _of_train("service", {"service": "out"}, state="in"),
    ],
    "stops": [
        lambda draw: draw.new("stops", name=draw.word(), begins_on="2027-04-12", ends_on="2027-04-23"),
        change("stops", name=Draw.word), remove("stops"),
    ],
    "machine-units": [
        lambda draw: draw.new("machine-units", kind="motor", serial=f"M-{draw.no()}"),
        change("machine-units", note=Draw.word),
        act("machine-units", "install", at=None, **ONE_PLACE),
        _swap,
        act("machine-units", "take-out", STANDS, at=Draw.instant, reason="x", left_with_hub=True),
        _stay,
    ],
    "storage-rules": table(
        "storage-rules", lambda draw: {"polymer": f"P{draw.no()}", "policy": "house", "initial_years": 5},
        extension_years=lambda draw: draw.chance.randint(1, 4),
    ),
    "growth-coefficients": table(
        "growth-coefficients", lambda draw: {"material": draw.chance.choice(MATERIALS), "per_k": 11, "per_k_u": 0.3},
        per_k=lambda draw: draw.chance.randint(9, 14),
    ),
    "nut-factors": table(
        "nut-factors", lambda draw: {"set": "ours", "condition": draw.word(), "nut_factor": 0.2}, **NUMBERS
    ),
    "tightening-scatter": table(
        "tightening-scatter",
        lambda draw: {"set": "ours", "method": draw.word(), "scatter": {"value": 20, "unit": "%"}}, note=Draw.word,
    ),
    "second-screw-factors": table(
        "second-screw-factors",
        lambda draw: {end: {"value": draw.no() % 180, "unit": "deg"} for end in ("from", "to")} | {"factor": 1.5},
        factor=lambda draw: round(draw.chance.uniform(1, 2), 2),
    ),
    "fit-classes": table(
        "fit-classes",
        lambda draw: {"name": draw.word(), "over": mm(10), "up_to": mm(20), "bore_lower": mm(0),
                      "bore_upper": mm(0.02), "shaft_lower": mm(-0.01), "shaft_upper": mm(0)},
        source=Draw.word,
    ),
    "failure-codes": table(
        "failure-codes", lambda draw: {"kind": "mode", "code": f"X{draw.no()}", "name": "invented"},
        name=Draw.word,
    ),
    "wear-wordings": table(
        "wear-wordings",
        lambda draw: {"code": draw.chance.choice(WearCode.objects.order_by("code").values_list("code", flat=True)),
                      "title": draw.word()},
        title=Draw.word,
    ),
    "data-sheets": [
        lambda draw: draw.new(
            "data-sheets", designation=draw.word(),
            family=draw.chance.choice(Family.objects.filter(ages=True).order_by("code").values_list("code", flat=True)),
        ),
        change("data-sheets", note=Draw.word),
        act("data-sheets", "versions", {"versions__published_at__isnull": False}),
        act("data-sheets", "copy", designation=Draw.word),
        _version(_limits), _version(_publish), _version(_adopt), _version(_noted),
    ],
    "limit-changes": [
        act("limit-changes", "approve", {"decision": "waiting"}),
        act("limit-changes", "turn-down", {"decision": "waiting"}, reason="x"),
    ],
    "grades": [
        lambda draw: draw.new(
            "grades", name=draw.word(), rows=[{"up_to": rpm(1800), "offset": mm(0.1), "source": "invented"}]
        ),
        change("grades", note=Draw.word), remove("grades"),
    ],
    "couplings": [
        _coupling, _target, change("couplings", name=Draw.word),
        change("couplings", power={"value": 55, "unit": "kW"}),
        act("couplings", "retire", {"pk__in": Coupling.objects.filter(EMPTY, retired_on=None)}, on=Draw.day),
        act("couplings", "succeed", {"retired_on": None}, on=Draw.day, tag=lambda draw: f"C-{draw.no()}",
            with_fit=True),
    ],
    "fits": [
        _fit, change("fits", match_marks=Draw.word),
        act("fits", "move", {"removed_on": None}, to=_free, on=Draw.day),
        act("fits", "remove", {"removed_on": None}, removed_on=Draw.day, removal_reason="x"),
        act("fits", "swap-hub", {"removed_on": None}, side="driver", on=Draw.day, serial=lambda draw: f"H-{draw.no()}",
            removal_reason="x"),
    ],
    "elements": [
        lambda draw: ("post", f"{API}elements/", {
            "fit": draw.any(Fit, removed_on=None, elements=None), "part_number": "E-80", "fitted_on": draw.day(),
        }),
        lambda draw: ("post", f"{API}elements/", {
            "fit": draw.any(Fit, removed_on=None), "lot": draw.any(StockLot, count__gt=0),
            "fitted_on": draw.day(0), "replaced_because": "worn",
        }),
        change("elements", batch=Draw.word),
        act("elements", "take-out", {"removed_on": None}, removed_on=Draw.day, removal_reason="x"),
    ],
    "removal-reasons": [
        lambda draw: draw.new("removal-reasons", code=f"r-{draw.no()}", title=draw.word()),
        change("removal-reasons", title=Draw.word),
    ],
    "stock-lots": [
        lambda draw: draw.new("stock-lots", part_number=f"E-{draw.no() % 4}", number=3),
        change("stock-lots", place=Draw.word),
        act("stock-lots", "move", kind="scrapped", number=1, note="x"),
    ],
    "instruments": [
        lambda draw: draw.new("instruments", kind="feeler", name="Feelers", serial=f"I-{draw.no()}"),
        change("instruments", name=Draw.word),
        act("instruments", "calibrate", on=Draw.day, laboratory="Workshop", certificate=Draw.word,
            result="within"),
    ],
    "policies": [
        lambda draw: draw.new("policies", every_months=6, check_kind=draw.chance.choice(("torque", "wear", "look")),
                              criticality=draw.chance.choice("ABC")),
        change("policies", crew_size=lambda draw: draw.chance.randint(1, 4)), remove("policies"),
    ],
    "work-orders": [
        lambda draw: ("post", f"{API}work-orders/", {"train": draw.any(Train), "number": f"WO-{draw.no()}"}),
        change("work-orders", title=Draw.word), act("work-orders", "close"),
        act("work-orders", "isolate", {"state": "open"}, permit="P-1"),
    ],
    "visits": [
        lambda draw: ("post", f"{API}visits/", {
            "coupling": draw.any(Coupling, retired_on=None), "kind": "running", "on": draw.day(0),
        }),
        act("visits", "drop", {"state": "draft"}),
    ],
    "other-works": [
        lambda draw: ("post", f"{API}other-works/", {"coupling": draw.any(Coupling), "kind": "pipe", "on": draw.day()}),
        remove("other-works"),
    ],
}  # fmt: skip
