"""The tables a site goes by: its own rows, and the starters where it has none."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

from couplings.engineering.fastening import SCATTER as JOINT_SCATTER
from couplings.engineering.fits import INCH_MM
from couplings.engineering.tables.iso286 import InchClass
from couplings.engineering.tables.nut_factors import NUT_FACTORS, SCATTER, NutFactorRow, ScatterRow
from couplings.engineering.tables.setscrews import STARTER_ANGLES, AngleRow
from couplings.models import FitClass, NutFactor, SecondScrewFactor, TighteningScatter
from plant.models import Site

JOINT_SET = next(name for name, rows in SCATTER.items() if JOINT_SCATTER in rows)


def nut_factors_at(site: Site | int) -> Mapping[str, tuple[NutFactorRow, ...]]:
    """Nut factors by set. [1]"""
    rows = NutFactor.objects.filter(site=site).order_by("of_set", "condition")
    found = {
        name: tuple(
            NutFactorRow(row.source, row.condition, row.nut_factor, row.low, row.high, row.mark) for row in of_set
        )
        for name, of_set in groupby(rows, key=lambda row: row.of_set)
    }
    return found or NUT_FACTORS


def scatter_at(site: Site | int) -> Mapping[str, tuple[ScatterRow, ...]]:
    """Scatter of the preload by set. [1]"""
    rows = TighteningScatter.objects.filter(site=site).order_by("of_set", "method")
    found = {
        name: tuple(ScatterRow(row.source, row.method, row.scatter, row.note, row.mark) for row in of_set)
        for name, of_set in groupby(rows, key=lambda row: row.of_set)
    }
    return found or SCATTER


def joint_scatter_at(site: Site | int) -> ScatterRow:
    """The scatter that joints of data sheets are told with, as the site has it written. [1]"""
    row = TighteningScatter.objects.filter(site=site, of_set=JOINT_SET, method=JOINT_SCATTER.method).first()
    return ScatterRow(row.source, row.method, row.scatter, row.note, row.mark) if row is not None else JOINT_SCATTER


def second_screws_at(site: Site | int) -> tuple[AngleRow, ...]:
    """Factors of two set screws by their angle, a range as its two ends. [deg, 1]"""
    found = []
    for row in SecondScrewFactor.objects.filter(site=site).order_by("from_deg"):
        found += [AngleRow(angle, row.factor, row.mark, row.source) for angle in sorted({row.from_deg, row.to_deg})]
    return tuple(found) or STARTER_ANGLES


def fit_classes_at(site: Site | int) -> tuple[InchClass, ...]:
    """Fits by the site's own classes; no public set exists to begin with. [inch]"""
    return tuple(
        InchClass(
            row.name,
            row.over_mm / INCH_MM,
            row.up_to_mm / INCH_MM,
            (row.bore_lower_mm / INCH_MM, row.bore_upper_mm / INCH_MM),
            (row.shaft_lower_mm / INCH_MM, row.shaft_upper_mm / INCH_MM),
            row.source,
            row.mark,
        )
        for row in FitClass.objects.filter(site=site).order_by("name", "over_mm")
    )
