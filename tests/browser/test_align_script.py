"""What the phone computes is what the server computes, to 1e-9, with no server there to ask."""

import math
import random
from collections import Counter
from typing import Any

import numpy as np
import pytest

from couplings.calculations import alignment_answer
from couplings.calculations.alignment_answer import compute_alignment
from couplings.calculations.alignment_request import read_alignment
from couplings.calculations.on_the_phone import phone_data
from couplings.calculations.typed import payload_from_typed
from couplings.engineering import alignment
from couplings.engineering.alignment import METHODS, ReadingSet, flex_angles
from couplings.engineering.alignment import solve as server_solve
from tests.browser.align_script import as_script, script_without_a_server
from tests.reference import alignment_cases, test_limits, test_methods, test_readings

pytestmark = [pytest.mark.browser]
CLOSE = 1e-9  # far below the last digit of any dial, far above what the order of additions leaves


def plain(value: Any) -> Any:
    """Numbers as the script has them: null for what is not known."""
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    return None if isinstance(value, float) and math.isnan(value) else value


def farthest(ours: Any, theirs: Any, where: str) -> float:
    """The largest difference of two equally built answers; what only one of them knows is infinitely far."""
    if isinstance(theirs, list):
        assert isinstance(ours, list), where
        assert len(ours) == len(theirs), where
        return max(
            (farthest(a, b, f"{where}.{i}") for i, (a, b) in enumerate(zip(ours, theirs, strict=True))), default=0
        )
    if theirs is None or ours is None:
        assert ours is theirs, f"{where}: {ours} here, {theirs} on the server"
        return 0.0
    return abs(ours - theirs) / max(1.0, abs(theirs))


class Calls:
    """What the reference tests asked of the server's functions, with the answers."""

    def __init__(self) -> None:
        self.asked: list[dict[str, Any]] = []
        self.cases: Counter[str] = Counter()
        self.case = ""

    def add(self, expression: str, arguments: dict[str, Any], answer: Any) -> None:
        self.cases[self.case] += 1
        self.asked.append({"case": self.case, "expression": expression, "with": arguments, "answer": plain(answer)})

    def solve(self, sets, *, flex_planes_mm=None, viewed_from="movable"):
        found = server_solve(sets, flex_planes_mm=flex_planes_mm, viewed_from=viewed_from)
        asked = {"sets": [as_script(one) for one in sets], "planes": plain(flex_planes_mm), "viewedFrom": viewed_from}
        answer = [
            found.misalignment.mean,
            found.misalignment.covariance,
            [[one.closure_mm, one.closure_sd_mm] for one in found.sets],
            [one.rms_mm for one in found.sets],
            found.chi2,
            float(found.dof),
        ]
        self.add(
            """({sets, planes, viewedFrom}) => {
                const found = asleft.solve(sets, {planes, viewedFrom});
                const closures = found.sets.map(({closure}) => [closure?.value ?? null, closure?.sd ?? null]);
                const rms = found.sets.map((one) => one.rms);
                return [found.mean, found.covariance, closures, rms, found.chi2, found.dof];
            }""",
            asked,
            answer,
        )
        return found

    def direct(self, offset_mm, slope_mrad, *, offset_u_mm, slope_u_mrad, viewed_from="movable"):
        found = _server["direct"](
            offset_mm, slope_mrad, offset_u_mm=offset_u_mm, slope_u_mrad=slope_u_mrad, viewed_from=viewed_from
        )
        asked = {"offset": plain(offset_mm), "slope": plain(slope_mrad), "viewedFrom": viewed_from}
        self.add("({offset, slope, ...how}) => asleft.direct(offset, slope, how).mean", asked, found.misalignment.mean)
        return found

    def foot_moves(self, misalignment, feet, target4=(0.0, 0.0, 0.0, 0.0)):
        found = _server["foot_moves"](misalignment, feet, target4)
        asked = {"mean": plain(misalignment.mean), "feet": plain(feet), "target": plain(target4)}
        words = "({mean, feet, target}) => asleft.footMoves(mean, feet, target).map(({up, right}) => [up, right])"
        self.add(words, asked, [[one.up_mm, one.right_mm] for one in found])
        return found

    def at(self, misalignment, x_mm):
        found = _server["at"](misalignment, x_mm)
        self.add("({mean, x}) => asleft.at(mean, x)", {"mean": plain(misalignment.mean), "x": x_mm}, found[0])
        return found

    def flex_angles(self, misalignment, xa_mm, xb_mm):
        found = flex_angles(misalignment, xa_mm, xb_mm)
        asked = {"mean": plain(misalignment.mean), "planes": [xa_mm, xb_mm]}
        self.add("({mean, planes}) => asleft.flexAngles(mean, planes)", asked, found[0])
        return found

    def judge(self, misalignment, limits, flex_planes_mm=None, axial=None, *more, **others):
        found = _server["judge"](misalignment, limits, flex_planes_mm, axial, *more, **others)
        asked = {
            "mean": plain(misalignment.mean),
            "limits": [{"quantity": one.quantity, "value": one.value, "family": one.family} for one in limits.limits],
            "how": {
                "rule": limits.rule,
                "combined": limits.combined,
                "planes": plain(flex_planes_mm),
                "axial": axial and axial[0],
            },
        }
        words = "({mean, limits, how}) => asleft.limitLines(mean, limits, how).map(({value, share}) => [value, share])"
        self.add(words, asked, [[one.value, one.share] for one in found.lines])
        return found

    def closure_mm(self, readings_mm):
        found = _server["closure_mm"](readings_mm)
        item = ReadingSet("rim", alignment_cases.ROUND, tuple(readings_mm), carried_by="stationary")
        self.add("(set) => asleft.closure(set).value", as_script(item), float(found))
        return found

    def corrected_mm(self, item):
        found = _server["corrected_mm"](item)
        self.add("(set) => asleft.corrected(set)", as_script(item), found)
        return found


_server: dict[str, Any] = {
    "at": alignment.at,
    "direct": alignment.direct,
    "foot_moves": test_methods.foot_moves,
    "judge": test_limits.judge,
    "closure_mm": alignment.closure_mm,
    "corrected_mm": ReadingSet.corrected_mm,
}


def test_every_published_case_of_a_method_comes_out_the_same_in_the_browser(browser, monkeypatch):
    calls = Calls()
    for module in (test_methods, test_readings, test_limits):
        for name in ("solve", "foot_moves", "flex_angles", "judge", "at"):
            if hasattr(module, name):
                monkeypatch.setattr(module, name, getattr(calls, name))
    monkeypatch.setattr(alignment_cases, "at", calls.at)
    monkeypatch.setattr(alignment, "closure_mm", calls.closure_mm)
    monkeypatch.setattr(alignment, "direct", calls.direct)
    monkeypatch.setattr(ReadingSet, "corrected_mm", lambda item: calls.corrected_mm(item))
    ran = set()
    for module in (test_methods, test_readings, test_limits):
        for name, function in list(vars(module).items()):
            marks = [one for one in getattr(function, "pytestmark", []) if one.name == "parametrize"]
            for case in marks[0].args[1] if name.startswith("test_") and marks else ():
                if isinstance(case, dict):
                    calls.case = case["id"]
                    ran.add(case["id"])
                    function(case)
    with script_without_a_server(browser) as page:
        worst = 0.0
        for one in calls.asked:
            found = page.evaluate(one["expression"], one["with"])
            worst = max(worst, farthest(found, one["answer"], one["case"]))
    methods = {case for case in alignment_cases.CASES if case[:2] in ("RF", "RV", "SG", "SE", "LS", "VA")}
    assert methods & set(alignment_cases.RUN) <= set(calls.cases), "a case of a method asked the script for nothing"
    assert len(calls.asked) > len(calls.cases)
    assert worst < CLOSE


TIMES = 210  # thirty set-ups for each of the seven methods
LENGTHS = {"metric": ("", " mm", "\u00a0mm"), "us": ("", " thou", " mil")}


def _number(chance: random.Random, size: float, places: int) -> str:
    """A reading as somebody types it: either decimal mark, either minus, a plus or none."""
    value = round(chance.uniform(-size, size), places)
    mark = chance.choice((".", ","))
    # A comma and three decimals could be thousands, which the server asks about.
    text = f"{abs(value):.{places}f}".replace(".", mark if places != 3 else ".")
    return (chance.choice(("-", "\u2212")) if value < 0 else chance.choice(("", "+"))) + text


def typed_form(chance: random.Random, method: str, system: str) -> dict[str, str]:
    """A form of a method filled in at random: full turns and pairs, odd angles, second dials, sag, target, limits."""
    us = system == "us"

    def gap(size: float = 0.5) -> str:
        given = _number(chance, size / 0.0254, 1) if us else _number(chance, size, 2)
        return given + chance.choice(LENGTHS[system])

    def size(low: float, high: float) -> str:
        mm = chance.uniform(low, high)
        return chance.choice((f"{mm / 25.4:.3f} in", f"{mm:.1f} mm", f'{mm / 25.4:.2f}"' if us else f"{mm:.0f}mm"))

    typed = {"method": method, "viewed_from": chance.choice(("movable", "stationary"))}
    if method == "direct":
        planes = chance.choice((("v", "h"), ("v",), ("h",)))
        names = chance.choice((("offset", "slope"), ("angle_a", "angle_b")))
        for name in names:
            for plane in planes:
                slope = _number(chance, 2, 2) + chance.choice(("", " mm/m", " mrad", " mil/in"))
                typed[f"{name}_{plane}"] = gap() if name == "offset" else slope
    for number, row in enumerate(METHODS[method].sets):
        at = f"set{number}."
        hours = chance.choice(((12, 3, 6, 9), (12, 3, 6, 9), (12, 6), (9, 12, 3), tuple(range(1, 13))))
        face = row.kind == "face" or (row.kind == "flex-angle" and "swing_radius_mm" in row.geometry)
        opposed = face and chance.random() < 0.3
        turned = chance.random() < 0.3
        for hour in hours:
            typed[f"{at}{hour}"] = gap()
            if opposed:
                typed[f"{at}opposed{hour}"] = gap()
            if turned:
                typed[f"{at}turned{hour}"] = gap()
                if opposed:
                    typed[f"{at}turned_opposed{hour}"] = gap()
        if chance.random() < 0.3 and not opposed:
            typed[f"{at}more"] = "; ".join(f"{angle}: {gap()}" for angle in (45, 130.5, -100))
        if "x_mm" in row.geometry:
            typed[f"{at}x"] = ("-" if number % 2 else "") + size(20, 300)
        if "swing_radius_mm" in row.geometry:
            typed[f"{at}swing_radius"] = size(30, 200)
        if "distance_mm" in row.geometry:
            typed[f"{at}distance"] = size(30, 200)
        if face:
            typed[f"{at}surface"] = chance.choice(("", "near", "far"))
        if row.kind not in ("step", "gap"):
            typed[f"{at}half"] = chance.choice(("", "full", "half"))
            typed[f"{at}sag"] = chance.choice(("", gap(0.1)))
            typed[f"{at}sag_u"] = chance.choice(("", "0.01 mm"))
            typed[f"{at}bracket"] = chance.choice(("", "long bar"))
        typed[f"{at}u"] = chance.choice(("", "0.005 mm", "0.5 thou"))
    if METHODS[method].needs_flex_planes or method == "direct" or chance.random() < 0.7:
        typed |= {"flex_a": "-" + size(30, 150), "flex_b": size(30, 150), "limit_flex_angle": "0.5 mm/m"}
    typed |= {
        "limit_offset": chance.choice(("0.05 mm", "2 thou", "0,1mm")),
        "limit_angularity": chance.choice(("0.5", "0,03 deg", "1 mm/m")),
    }
    typed |= {"limit_rule": chance.choice(("", "vector", "per-plane")), "limit_combined": chance.choice(("", "yes"))}
    typed |= {"feet0.name": "inboard", "feet0.x": size(200, 400), "feet1.name": "outboard", "feet1.x": size(500, 900)}
    if chance.random() < 0.5:
        typed |= {"target_offset_v": gap(), "target_slope_h": "0.2", "target1_name": "lift", "target1_offset_v": gap()}
    if chance.random() < 0.5:
        gaps = {f"gap{place}": f"3.{place}2 mm" for place in range(chance.randint(1, 4))}
        typed |= gaps | {"gap_nominal": "3 mm", "limit_axial": "0.5 mm", "rotor_from_place": "0.1 mm"}
    return typed


def test_forms_filled_at_random_come_out_as_the_server_reads_and_solves_them(browser, monkeypatch):
    # The probabilities take seconds over hundreds of forms and are not the phone's to give.
    monkeypatch.setattr("couplings.engineering.conformity.inside", lambda *_: 0.5)
    monkeypatch.setattr("couplings.engineering.conformity.in_disc", lambda *_: 0.5)
    monkeypatch.setattr("couplings.engineering.conformity.length_quantile", lambda *_: 1.0)
    chance, worst, solved = random.Random(4711), 0.0, Counter()
    with script_without_a_server(browser) as page:
        for turn in range(TIMES):
            method, system = list(METHODS)[turn % len(METHODS)], chance.choice(("metric", "us"))
            typed = typed_form(chance, method, system)
            found = page.evaluate(
                """({typed, data}) => {
                    const found = asleft.survey((name) => typed[name] ?? "", data);
                    return found && [found.mean, found.left, found.angles, found.solution.covariance,
                        found.moves.map(({up, right}) => [up, right]),
                        found.lines.map(({value, share}) => [value, share]),
                        found.solution.sets.map(
                            ({closure, rms}) => [closure?.value ?? null, closure?.sd ?? null, rms])];
                }""",
                {"typed": typed, "data": phone_data(method, system) | {"words": {}}},
            )
            payload, errors = payload_from_typed(method, typed, system)
            assert errors == {}, typed
            try:
                result = compute_alignment(read_alignment(payload))
            except alignment_answer.Refused:
                assert found is None, f"only the phone solves {typed}"
                continue
            solved[method] += 1
            planes, position = result.request.flex_planes_mm, result.position
            theirs = [
                position.mean,
                result.from_target.mean,
                flex_angles(position, *planes)[0] if planes else None,
                None if method == "direct" else position.covariance,
                [[one.up_mm, one.right_mm] for one in result.moves],
                [[one.value, one.share] for one in result.judgement.lines],
                [[one.closure_mm, one.closure_sd_mm, one.rms_mm] for one in result.solution.sets],
            ]
            worst = max(worst, farthest(found, plain(theirs), str(typed)))
    assert min(solved[method] for method in METHODS) > TIMES / len(METHODS) / 2
    assert worst < CLOSE
