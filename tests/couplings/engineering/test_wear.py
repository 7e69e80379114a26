"""Wear: starter codes for every family, grades and what follows, numbers against the data sheet's limits."""

import json
import math
import re
from pathlib import Path

import pytest

from couplings.engineering.wear import (
    DO_NOT_RUN,
    NUMBER_KINDS,
    RAISES_FLAG,
    Observation,
    WearError,
    assess,
    codes_of,
    wear_codes,
)
from couplings.engineering.worn import chain_elongation, chain_elongation_limit, chain_length_mm, wear_left

STARTERS = Path(__file__).resolve().parents[3] / "fixtures" / "starters"
FAMILIES = [row["code"] for row in json.loads((STARTERS / "families.json").read_text(encoding="utf-8"))]
ROWS = json.loads((STARTERS / "wear_codes.json").read_text(encoding="utf-8"))
CODES = wear_codes(ROWS, FAMILIES)
DISC = codes_of("disc", CODES)
JAW = codes_of("elastomer-compression", CODES)


@pytest.mark.parametrize("family", FAMILIES)
def test_every_family_has_codes_with_words_for_grades(family):
    found = codes_of(family, CODES)
    assert len(found) >= 3
    assert any(code.fracture for code in found)
    for code in found:
        assert code.source
        assert code.kind in ("", *NUMBER_KINDS)
        assert code.fracture or all(code.grades)


@pytest.mark.parametrize("family", ["disc", "diaphragm", "grid", "chain"])
def test_parts_that_break_are_asked_for_by_name(family):
    assert f"{family if family != 'disc' else 'blade'}-fracture" in {code.code for code in codes_of(family, CODES)}


def test_grade_3_raises_a_flag_and_grade_4_says_do_not_run():
    quiet = assess([Observation("dust", 2)], JAW)
    assert (quiet.grade, quiet.raises_flag, quiet.do_not_run) == (2, False, False)
    flagged = assess([Observation("dust", 2), Observation("crack", 3)], JAW)
    assert (flagged.grade, flagged.raises_flag, flagged.do_not_run) == (3, True, False)
    assert flagged.words == RAISES_FLAG
    stopped = assess([Observation("crack", 4), Observation("dust", 0)], JAW)
    assert (stopped.grade, stopped.raises_flag, stopped.do_not_run) == (4, True, True)
    assert stopped.words == DO_NOT_RUN
    assert "site's procedure" in DO_NOT_RUN
    assert assess([], JAW).grade is None


@pytest.mark.parametrize("grade", [1, 2, 3, 4])
@pytest.mark.parametrize("code", ["blade-fracture", "bolt-fracture"])
def test_any_fracture_is_grade_4(code, grade):
    found = assess([Observation(code, grade)], DISC)
    assert found.do_not_run
    assert found.lines[0].stated == grade
    assert found.lines[0].grade == 4
    assert assess([Observation(code, 0)], DISC).grade == 0


def test_a_number_beyond_the_limit_is_grade_3_at_least():
    beyond = assess([Observation("play", 1, value=2.2, limit=2.0)], JAW).lines[0]
    assert (beyond.grade, beyond.stated, beyond.verdict) == (3, 1, "out of tolerance")
    assert beyond.share == pytest.approx(1.1)
    assert "beyond" in beyond.why
    assert assess([Observation("play", 4, value=2.2, limit=2.0)], JAW).grade == 4
    near = assess([Observation("play", 1, value=1.9, limit=2.0, u=0.1)], JAW).lines[0]
    assert (near.grade, near.verdict) == (1, "too close to call")
    at_it = assess([Observation("play", None, value=2.0, limit=2.0)], JAW).lines[0]
    assert (at_it.grade, at_it.verdict) == (None, "in tolerance")


def test_without_the_data_sheet_s_limit_a_number_is_not_judged():
    line = assess([Observation("thickness-loss", 1, value=3.0)], JAW).lines[0]
    assert (line.verdict, line.share, line.grade) == ("not known", None, 1)
    assert "no public source" in line.why


@pytest.mark.parametrize(
    ("seen", "field", "words"),
    [
        ([Observation("blade-fracture", 1)], "observations.0.code", "Choose one of"),
        ([Observation("dust", 1), Observation("dust", 2)], "observations.1.code", "twice"),
        ([Observation("dust", 5)], "observations.0.grade", "0, 1, 2, 3 or 4"),
        ([Observation("dust")], "observations.0.grade", "Give a grade"),
        ([Observation("dust", 1, value=1.0)], "observations.0.value", "no number"),
        ([Observation("play", 1, limit=1.0)], "observations.0.value", "missing"),
        ([Observation("play", 1, value=math.nan)], "observations.0.value", "finite"),
        ([Observation("play", 1, value=1.0, limit=0.0)], "observations.0.limit", "above zero"),
        ([Observation("play", 1, value=1.0, limit=1.0, u=-1.0)], "observations.0.standard_uncertainty", "negative"),
    ],
)
def test_what_cannot_be_seen_is_refused(seen, field, words):
    with pytest.raises(WearError, match=re.escape(words)) as caught:
        assess(seen, JAW)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"code": "crack"}, "code"),
        ({"families": ["rope"]}, "families"),
        ({"grades": ["none", "one"]}, "grades"),
        ({"grades": [None, "a", "b", "c", "d"]}, "grades"),
        ({"number": "length", "kind": "speed"}, "kind"),
        ({"number": "length"}, "kind"),
    ],
)
def test_a_row_that_makes_no_code_is_refused(change, field):
    row = {"code": "new", "families": ["tyre"], "title": "New", "grades": list("abcde")} | change
    with pytest.raises(WearError) as caught:
        wear_codes([*ROWS, row], FAMILIES)
    assert caught.value.field == field


def test_wear_left_runs_to_the_limit_whichever_way_it_lies():
    assert wear_left(10, 10, 8, 100).hours_left is None
    past = wear_left(10, 7, 8, 300)
    assert (past.left_mm, past.hours_left) == (-1, -100)
    growing = wear_left(0, 1, 3, 1000)
    assert (growing.worn_mm, growing.left_mm, growing.hours_left) == (1, 2, 2000)


def test_elongation_is_read_back_from_the_length():
    assert chain_elongation(12.7, 20, chain_length_mm(12.7, 20, 0.021)) == pytest.approx(0.021)
    assert chain_elongation_limit(67) == 0.03
    assert chain_elongation_limit(68) == pytest.approx(2 / 68)
    assert chain_elongation_limit(160, True) == pytest.approx(2 / 160)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: wear_left(1, 1, 1, 10), "limit"),
        (lambda: wear_left(2, 1, 1, 0), "hours"),
        (lambda: wear_left(math.nan, 1, 1, 10), "new"),
        (lambda: chain_elongation_limit(4), "teeth"),
        (lambda: chain_length_mm(0, 10), "pitch"),
        (lambda: chain_length_mm(12.7, 0), "links"),
        (lambda: chain_length_mm(12.7, 10, 1), "elongation"),
        (lambda: chain_elongation(12.7, 10, math.inf), "measured"),
    ],
)
def test_what_cannot_have_worn_is_refused(call, field):
    with pytest.raises(WearError) as caught:
        call()
    assert caught.value.field == field
