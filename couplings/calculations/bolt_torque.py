"""`bolt-torque`: torque to preload or back, with its range, stress, share of the proof load and tightening passes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from couplings.calculations.bolt_torque_form import EXAMPLE, FORM, form_by
from couplings.calculations.bolt_torque_request import BoltTorqueRequest, Sourced, read_bolt_torque
from couplings.engineering.bolts import proof_load_n, share_warnings
from couplings.engineering.friction import BEARING_BUILT_IN, FORMS, assembly_preload_n, nut_factor_by_friction
from couplings.engineering.tables.nut_factors import NSTS_08307
from couplings.engineering.tables.published_torques import PublishedTorque, published_torques
from couplings.engineering.threads import INCH_MM, FastenerError
from couplings.engineering.tightening import STARTER_SHARES_SOURCE, Pass, tightening_passes
from couplings.engineering.torque_preload import embedding_loss_n, preload_n, preload_range_n, torque_nm
from couplings.selectors.tables import nut_factors_at, scatter_at
from plant import units
from plant.calculations import Calculation
from plant.models import Site
from plant.refusals import Refused

# Where an error of the engineering rooms stands in the request; all others keep their own name.
_PLACES = {
    "class": "strength",
    "nut_factor": "nut_factor",
    "diameter": "thread",
    "pitch": "thread",
    "shares": "pattern.shares",
    "segments": "pattern.segments",
    "positions": "pattern.positions",
    "order": "pattern.order",
}


@dataclass(frozen=True)
class ByForm:
    """What another long form says of the same geometry."""

    form: str
    nut_factor: float
    torque_nm: float


@dataclass(frozen=True)
class BoltTorqueResult:
    """N, N*m, shares. The range is None where no scatter is named, `yield_*` where friction or yield is not known."""

    request: BoltTorqueRequest
    nut_factor: Sourced
    torque_nm: float
    preload_n: float
    proof_n: float
    range_n: tuple[float, float] | None
    embedding_n: float
    yield_preload_n: float | None
    yield_torque_nm: float | None
    other_forms: tuple[ByForm, ...]
    published: tuple[PublishedTorque, ...]
    passes: tuple[Pass, ...]
    warnings: tuple[str, ...]

    @property
    def shares(self) -> tuple[float, float | None, float | None]:
        """Of the proof load: nominal, lowest, highest."""
        low, high = (None, None) if self.range_n is None else (one / self.proof_n for one in self.range_n)
        return self.preload_n / self.proof_n, low, high

    @property
    def stress_mpa(self) -> float:
        return self.preload_n / self.request.thread.area_mm2


def compute_bolt_torque(request: BoltTorqueRequest) -> BoltTorqueResult:
    """Torque, preload and what follows; Refused says which field cannot be used and why."""
    try:
        return _computed(request)
    except FastenerError as error:
        raise Refused({_PLACES.get(error.field, error.field): error.message}) from error


def _computed(request: BoltTorqueRequest) -> BoltTorqueResult:
    thread, d = request.thread, request.thread.diameter_mm
    proof = proof_load_n(thread, request.strength)
    k = _nut_factor(request)
    if request.torque_nm is not None:
        torque, preload = request.torque_nm, preload_n(k.value, d, request.torque_nm)
    else:
        wanted = request.preload_n
        preload = wanted if wanted is not None else (request.share_of_proof or 0.0) * proof
        torque = torque_nm(k.value, d, preload)
    lost = request.embedment
    embedding = embedding_loss_n(lost.depth_mm, lost.bolt_mm_per_n, lost.joint_mm_per_n) if lost else 0.0
    span = None
    if request.scatter is not None:
        span = preload_range_n(
            k.value,
            d,
            torque * (1 - request.torque_tolerance),
            torque * (1 + request.torque_tolerance),
            request.scatter.value,
            request.relaxation.value,
            embedding,
        )
    yield_preload = _yield_preload(request)
    pattern = request.pattern
    passes = (
        tightening_passes(torque, pattern.positions, pattern.order, shares=pattern.shares, segments=pattern.segments)
        if pattern
        else ()
    )
    low, high = span or (preload, preload)
    return BoltTorqueResult(
        request=request,
        nut_factor=k,
        torque_nm=torque,
        preload_n=preload,
        proof_n=proof,
        range_n=span,
        embedding_n=embedding,
        yield_preload_n=yield_preload,
        yield_torque_nm=None if yield_preload is None else torque_nm(k.value, d, yield_preload),
        other_forms=_other_forms(request, preload),
        published=_published(request),
        passes=passes,
        warnings=_warnings(request, preload / proof, low / proof, high / proof),
    )


def _nut_factor(request: BoltTorqueRequest) -> Sourced:
    if request.nut_factor is not None:
        return request.nut_factor
    by = request.friction
    assert by is not None  # the reader refuses a request with neither
    value = nut_factor_by_friction(by.form, request.thread, by.mu_thread, by.mu_bearing, by.bearing_diameter_mm)
    return Sourced(value, FORMS[by.form], f"friction {by.mu_thread:g} in the thread, {by.mu_bearing:g} under the head")


def _other_forms(request: BoltTorqueRequest, preload: float) -> tuple[ByForm, ...]:
    by = request.friction
    if by is None or by.bearing_diameter_mm is None:
        return ()
    rows = []
    for form in FORMS:
        if form == by.form or form in BEARING_BUILT_IN[1:]:
            continue
        k = nut_factor_by_friction(form, request.thread, by.mu_thread, by.mu_bearing, by.bearing_diameter_mm)
        rows.append(ByForm(FORMS[form], k, torque_nm(k, request.thread.diameter_mm, preload)))
    return tuple(rows)


def _yield_preload(request: BoltTorqueRequest) -> float | None:
    if request.friction is None or request.strength.yield_mpa is None:
        return None
    return assembly_preload_n(request.thread, request.strength.yield_mpa, request.friction.mu_thread)


def _published(request: BoltTorqueRequest) -> tuple[PublishedTorque, ...]:
    if request.strength.standard != "SAE J429":
        return ()
    return published_torques(request.strength.name, request.thread.name.rsplit("-", 1)[0])


def _warnings(request: BoltTorqueRequest, nominal: float, low: float, high: float) -> tuple[str, ...]:
    said = list(share_warnings(nominal, low, high, at_most=request.share_at_most))
    if request.scatter is None:
        said.append(
            "No scatter is named, so only the nominal preload is told: screws tightened alike differ by a third."
        )
    elif request.scatter.source == NSTS_08307 and request.thread.diameter_mm > 0.75 * INCH_MM:
        said.append("This scatter is printed for diameters up to 3/4 in; this thread is larger.")
    return tuple(said)


def answer_bolt_torque(result: BoltTorqueResult, system: str) -> dict[str, Any]:
    """The answer in the units asked for; null for a range without a scatter."""
    request, strength = result.request, result.request.strength
    nominal, low, high = result.shares
    low_n, high_n = result.range_n or (None, None)
    return {
        "thread": {
            "name": request.thread.name,
            "diameter": units.quantity(request.thread.diameter_mm, "size", system),
            "pitch": units.quantity(request.thread.pitch_mm, "size", system),
            "stress_area": area(request.thread.area_mm2, system),
        },
        "strength": {
            "standard": strength.standard,
            "name": strength.name or None,
            "proof": units.quantity(strength.proof_mpa, "pressure", system),
            "yield": units.quantity(strength.yield_mpa, "pressure", system),
            "tensile": units.quantity(strength.tensile_mpa, "pressure", system),
            "source": strength.source,
        },
        "proof_load": units.quantity(result.proof_n, "force", system),
        "torque": units.quantity(result.torque_nm, "torque", system),
        "preload": units.quantity(result.preload_n, "force", system),
        "nut_factor": _sourced(result.nut_factor),
        "preload_range": {
            "low_after_losses": units.quantity(low_n, "force", system),
            "high": units.quantity(high_n, "force", system),
        },
        "scatter": _sourced(request.scatter),
        "torque_tolerance": request.torque_tolerance,
        "relaxation": _sourced(request.relaxation),
        "embedding_loss": units.quantity(result.embedding_n, "force", system) if request.embedment else None,
        "stress": units.quantity(result.stress_mpa, "pressure", system),
        "share_of_proof": {"nominal": _plain(nominal), "low_after_losses": _plain(low), "high": _plain(high)},
        "at_90_percent_of_yield": None
        if result.yield_preload_n is None
        else {
            "preload": units.quantity(result.yield_preload_n, "force", system),
            "torque": units.quantity(result.yield_torque_nm, "torque", system),
            "source": "VDI 2230-1:2015",
        },
        "other_forms": [
            {
                "form": one.form,
                "nut_factor": _plain(one.nut_factor),
                "torque": units.quantity(one.torque_nm, "torque", system),
            }
            for one in result.other_forms
        ],
        "published_torques": [
            {
                "torque": units.quantity(one.torque_nm, "torque", system),
                "condition": one.condition,
                "source": one.source,
                "note": one.note,
            }
            for one in result.published
        ],
        "passes": [
            {
                "number": one.number,
                "share": _plain(one.share),
                "torque": units.quantity(one.torque_nm, "torque", system),
                "order": one.order,
                "positions": list(one.positions),
            }
            for one in result.passes
        ],
        "pass_shares_from": _shares_from(request),
        "warnings": list(result.warnings),
    }


def area(area_mm2: float, system: str) -> dict[str, Any]:
    """A stress area as the system's tables print it: mm^2 or in^2."""
    if system == units.US:
        return {"value": units.without_dust(area_mm2 / INCH_MM**2), "unit": "in^2"}
    return {"value": units.without_dust(area_mm2), "unit": "mm^2"}


def _shares_from(request: BoltTorqueRequest) -> str | None:
    if request.pattern is None:
        return None
    return STARTER_SHARES_SOURCE if request.pattern.starter else "as given"


def _sourced(one: Sourced | None) -> dict[str, Any] | None:
    return (
        None
        if one is None
        else {
            "value": _plain(one.value),
            "source": one.source,
            "detail": one.detail or None,
            "mark": one.mark or None,
        }
    )


def _plain(number: float | None) -> float | None:
    return None if number is None else units.without_dust(number)


def drawn(result: BoltTorqueResult, system: str) -> dict[str, Any]:
    """What the page prints beside the answer: lengths of text and rows in the units shown."""
    thread = area(result.request.thread.area_mm2, system)
    digits = 4 if system == units.US else 1
    return {
        "area": f"{thread['value']:.{digits}f}\u00a0{'in²' if system == units.US else 'mm²'}",
        "shares": result.shares,
        "shares_from": _shares_from(result.request),
    }


def _at(site: Site) -> Calculation:
    nut_factors, scatters = nut_factors_at(site), scatter_at(site)
    reader = partial(read_bolt_torque, nut_factors=nut_factors, scatters=scatters)
    return replace(BOLT_TORQUE, reader=reader, form=form_by(nut_factors, scatters))


BOLT_TORQUE = Calculation(
    name="bolt-torque",
    title="Bolt torque and preload",
    summary="Torque for a preload, or preload from a torque, with its scatter, share of proof load and passes.",
    reader=read_bolt_torque,
    function=compute_bolt_torque,
    writer=answer_bolt_torque,
    template="couplings/calculations/bolt_torque.html",
    form=FORM,
    drawn=drawn,
    example=EXAMPLE,
    at=_at,
)
