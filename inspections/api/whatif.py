"""Moves tried on paper over the API: what the page under a survey's result says, as numbers. Nothing is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rest_framework import serializers

from couplings.calculations.alignment_answer import limit_line, position
from couplings.calculations.moves_answer import answer_moves
from inspections.selectors.visits import draft_result
from inspections.selectors.whatif import TRAVEL_MM, Move, TrainTrial, Trial, train_tried, tried
from inspections.steps import STEPS
from inspections.steps.judging import Judged
from plant import units
from plant.api.fields import NounSerializer, QuantityField
from plant.refusals import Refused


class TriedMoveSerializer(NounSerializer):
    name = serializers.CharField(max_length=60, help_text="A foot plane of the survey's `moves`.")
    up = QuantityField(kind="gap", required=False, help_text="Negative: down. Left out: it stays.")
    right = QuantityField(kind="gap", required=False, help_text="As the observer behind the moved machine sees it.")


class WhatIfSerializer(NounSerializer):
    step = serializers.ChoiceField(
        choices=[key for key, row in STEPS.items() if row.surveys], help_text="Whose readings are moved on paper."
    )
    number = serializers.IntegerField(min_value=0, max_value=30, default=0, help_text="The round of alignment.")
    moves = TriedMoveSerializer(
        many=True, required=False, help_text="Left out: only what the whole train would have to do."
    )


class TrialSerializer(serializers.Serializer):
    step = serializers.CharField()
    number = serializers.IntegerField()
    stationary = serializers.CharField()
    movable = serializers.CharField()
    trial = serializers.DictField(
        allow_null=True,
        help_text="Where the moves would leave the moved machine, in the frame of the survey's result, and what the "
        "survey would then be given: expected, not measured.",
    )
    train = serializers.DictField(
        allow_null=True,
        help_text="Trains of three machines and more: `least` is the answer of `calculations/moves`, `moved` the same "
        "for the moves tried; `unknown` says what keeps the train from being laid out.",
    )


def whatif_answer(visit: Any, given: Mapping[str, Any], system: str) -> dict[str, Any]:
    """The answer of `POST /api/v1/visits/{id}/what-if/`; Refused says what is missing or cannot be."""
    step, number = given["step"], given["number"]
    row = STEPS[step]
    if row.numbered != bool(number):
        said = "Rounds count from 1." if row.numbered else f"{row.title} has one entry only: leave the number out."
        raise Refused({"number": said})
    found = draft_result(visit, step, number)
    if found is None:
        raise Refused({"step": "These readings give no result yet: see the entry for what is wrong or missing."})
    moves = _moves(found, given.get("moves") or ())
    trial = tried(found, moves) if moves else None
    train = train_tried(visit, found, trial)
    return {
        "step": step,
        "number": number,
        "stationary": found.surveyed.stationary,
        "movable": found.surveyed.movable,
        "trial": _trial(found, trial, system) if trial is not None else None,
        "train": _train(train, system) if train is not None else None,
    }


def _moves(found: Judged, given: Sequence[Mapping[str, Any]]) -> tuple[Move, ...]:
    """Every foot plane with its move; those that are not named stay."""
    if not given:
        return ()
    if not found.feet:
        raise Refused({"moves": found.feet_missing or "The feet of the moved machine are not known."})
    errors: dict[str, str] = {}
    known = [one.move.name for one in found.feet]
    named: dict[str, Mapping[str, Any]] = {}
    planes = (("up", found.misalignment.has_vertical), ("right", found.misalignment.has_horizontal))
    for place, one in enumerate(given):
        path = f"moves.{place}"
        if one["name"] not in known:
            errors[f"{path}.name"] = f"No foot plane has this name. There are: {', '.join(known)}."
        elif one["name"] in named:
            errors[f"{path}.name"] = "This foot plane is there twice."
        named[one["name"]] = one
        for way, solved in planes:
            if way in one and not solved:
                errors[f"{path}.{way}"] = "This plane was not measured, so nothing is known of moves in it."
            elif abs(one.get(way, 0.0)) > TRAVEL_MM:
                errors[f"{path}.{way}"] = "This is more than 25 mm: is the unit right?"
    if errors:
        raise Refused(errors)
    return tuple(
        Move(
            one.move.name,
            one.move.x_mm,
            named.get(one.move.name, {}).get("up", 0.0),
            named.get(one.move.name, {}).get("right", 0.0),
        )
        for one in found.feet
    )


def _trial(found: Judged, trial: Trial, system: str) -> dict[str, Any]:
    judgement = trial.judgement
    return {
        "moves": [
            {
                "name": one.name,
                "x": units.quantity(one.x_mm, "size", system),
                "up": units.quantity(one.up_mm, "gap", system),
                "right": units.quantity(one.right_mm, "gap", system),
            }
            for one in trial.moves
        ],
        **position(trial.position, found.flex_planes_mm, system),
        "limits": [limit_line(line, system) for line in judgement.lines],
        "tolerance_used": judgement.tolerance_used,
        "probability_in_tolerance": judgement.probability,
        "verdict": judgement.verdict,
        "reason_code": judgement.reason_code,
        "reason": judgement.reason,
        "from_straight_line": units.quantity(trial.bent_mm, "gap", system),
        "not_there": [{"name": name, "shims": units.quantity(there, "gap", system)} for name, there in trial.lacking],
    }


def _train(train: TrainTrial, system: str) -> dict[str, Any]:
    return {
        "machines": list(train.names),
        "sources": [{"coupling": one.tag, "as_left_on": one.on} for one in train.sources],
        "unknown": list(train.unknown),
        "remarks": list(train.remarks),
        "least": answer_moves(train.least, system) if train.least is not None else None,
        "moved": answer_moves(train.moved, system) if train.moved is not None else None,
    }
