"""Couplings, what is fitted at them, and instruments in the administration."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from couplings.models import Calibration, Coupling, Element, Fit, HubHalf, Instrument, TargetPart
from couplings.services import couplings, fits, instruments
from plant.admin.base import RecordedAdmin, ShownRows


class TargetRows(ShownRows):
    model = TargetPart
    joined = ("coupling", "by")


class FitRows(ShownRows):
    model = Fit
    fields = ["sheet_version", "serial", "fitted_on", "removed_on"]
    show_change_link = True
    joined = ("coupling", "sheet_version__sheet")


class ElementRows(ShownRows):
    model = Element
    fields = [
        "part_number", "batch", "cured_on", "fitted_on", "removed_on", "removal_code", "removal_reason",
        "removal_finding", "went", "went_to",
    ]  # fmt: skip
    joined = ("removal_code", "fit")


class HubRows(ShownRows):
    model = HubHalf
    joined = ("fit", "unit")


class CalibrationRows(ShownRows):
    model = Calibration
    joined = ("instrument", "by")


@admin.register(Coupling)
class CouplingAdmin(RecordedAdmin):
    writes = "register.write"
    list_display = ["tag", "name", "train", "site", "rpm", "retired_on"]
    list_filter = ["site", ("retired_on", admin.EmptyFieldListFilter)]
    list_select_related = ["train", "site"]
    search_fields = ["tag", "name", "train__tag", "train__name", "fits__serial"]
    raw_id_fields = ["train", "driver_machine", "driven_machine"]
    fields = [
        "train", "driver_machine", "driven_machine", "tag", "name", "rpm", "lowest_rpm", "power_kw", "grade",
        "grade_reason",
    ]  # fmt: skip
    inlines = [TargetRows, FitRows]

    def get_fields(self, request: HttpRequest, obj: Any = None) -> Any:
        return [*self.fields, "retired_on", "successor"] if obj is not None else self.fields

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        place = ["train", "driver_machine", "driven_machine", "retired_on", "successor"]
        return place if obj is not None else []

    def add(self, **fields: Any) -> Coupling:
        return couplings.register_coupling(**fields)

    def change(self, row: Coupling, **fields: Any) -> Coupling:
        return couplings.change_coupling(coupling=row, **fields)


@admin.register(Fit)
class FitAdmin(RecordedAdmin):
    """Serial numbers and match marks are mended here; what was fitted when is recorded by a visit or over the API."""

    writes = "register.write"
    list_display = ["coupling", "sheet_version", "serial", "fitted_on", "removed_on"]
    list_filter = ["site", ("removed_on", admin.EmptyFieldListFilter)]
    list_select_related = ["coupling", "sheet_version__sheet"]
    search_fields = [
        "serial", "spacer_serial", "bolt_set", "match_marks", "hubs__serial", "coupling__tag",
        "sheet_version__sheet__designation",
    ]  # fmt: skip
    readonly_fields = [
        "site", "coupling", "sheet_version", "fitted_on", "removed_on", "removal_reason", "went_to", "moved_from",
    ]  # fmt: skip
    inlines = [HubRows, ElementRows]

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def change(self, row: Fit, **fields: Any) -> Fit:
        return fits.change_fit(fit=row, **fields)


@admin.register(Instrument)
class InstrumentAdmin(RecordedAdmin):
    writes = "register.write"
    list_display = ["name", "serial", "kind", "site", "calibrated_on", "retired_on"]
    list_filter = ["site", "kind", ("retired_on", admin.EmptyFieldListFilter)]
    list_select_related = ["site"]
    search_fields = ["name", "serial", "calibrations__certificate", "calibrations__laboratory"]
    inlines = [CalibrationRows]

    def get_inlines(self, request: HttpRequest, obj: Any) -> Any:
        return self.inlines if obj is not None else []

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> list[str]:
        return ["site", "kind"] if obj is not None else []

    def add(self, **fields: Any) -> Instrument:
        return instruments.register_instrument(**fields)

    def change(self, row: Instrument, **fields: Any) -> Instrument:
        return instruments.change_instrument(instrument=row, **fields)
