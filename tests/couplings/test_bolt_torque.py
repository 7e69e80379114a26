"""The `bolt-torque` calculation as a request and as a page."""

import copy

import pytest

from couplings.calculations.bolt_torque import BOLT_TORQUE
from plant.calculations import run
from plant.refusals import Refused


def q(value, unit):
    return {"value": value, "unit": unit}


def asked(**changes):
    """The printed example with fields changed; None takes one away."""
    request = copy.deepcopy(dict(BOLT_TORQUE.example)) | changes
    return {key: value for key, value in request.items() if value is not None}


def refused(**changes):
    with pytest.raises(Refused) as refusal:
        run("bolt-torque", asked(**changes), "metric")
    return refusal.value.as_dict()


FRICTION = {"form": "motosh", "thread": 0.14, "bearing": 0.14, "bearing_diameter": q(15.05, "mm")}
BY_FRICTION = {"method": "friction", "nut_factor": None, "friction": FRICTION}


def test_the_armys_torque_comes_out_of_its_own_policy():
    # Army TM 10-6640-238-13 App. G, 1/2 grade 5, dry: 75 lbf*ft, which is K 0.20 at 75 % of proof.
    own = {"value": 0.2, "source": "Army TM 10-6640-238-13"}
    answer = run("bolt-torque", asked(thread="1/2-13", strength="SAE 5", nut_factor=own), "us")
    assert answer["torque"]["unit"] == "lbf*ft"
    assert answer["torque"]["value"] == pytest.approx(75, rel=0.025)
    printed = {
        one["source"][:4]: one["torque"]["value"] for one in answer["published_torques"] if "dry" in one["condition"]
    }
    assert printed["Army"] == pytest.approx(75)
    # MSFC-STD-486B Table I: 610 lbf*in, printed beside and not mixed with it.
    assert printed["MSFC"] == pytest.approx(610 / 12)
    assert answer["nut_factor"]["source"] == "Army TM 10-6640-238-13"


def test_a_superseded_table_says_so_and_todays_strength_is_used():
    answer = run(
        "bolt-torque", asked(thread="1-8", strength="SAE 5", torque=q(590, "lbf*ft"), share_of_proof=None), "us"
    )
    assert answer["strength"]["proof"]["value"] == pytest.approx(85_000)
    assert any("superseded" in one["note"] for one in answer["published_torques"])


def test_a_long_form_gives_its_printed_torque_and_the_others_beside_it():
    # Machine Design, article on nut factors, 2009: M12, 41.9 kN, friction 0.14: 92.6, 92.6 and 93.0 N*m.
    answer = run(
        "bolt-torque", asked(thread="M12x1.75", preload=q(41.9, "kN"), share_of_proof=None, **BY_FRICTION), "metric"
    )
    assert answer["torque"]["value"] == pytest.approx(92.6, abs=0.1)
    others = {one["form"]: one["torque"]["value"] for one in answer["other_forms"]}
    assert others["VDI 2230 / DIN 946"] == pytest.approx(92.6, abs=0.1)
    assert others["ISO 16047 (Kellermann and Klein)"] == pytest.approx(93.0, abs=0.3)
    # VDI 2230-1:2015: 41.9 kN at 90 % of yield.
    assert answer["at_90_percent_of_yield"]["preload"]["value"] == pytest.approx(41_900, rel=0.005)


def test_torque_to_preload_and_back_is_the_same_screw():
    there = run("bolt-torque", asked(), "metric")
    back = run("bolt-torque", asked(share_of_proof=None, torque=there["torque"]), "us")
    assert back["share_of_proof"]["nominal"] == pytest.approx(0.75)


def test_without_a_scatter_no_range_is_told_and_a_word_is_said():
    answer = run("bolt-torque", asked(scatter=None), "metric")
    assert answer["preload_range"] == {"low_after_losses": None, "high": None}
    assert any("No scatter is named" in one for one in answer["warnings"])


def test_a_scatter_beyond_its_printed_sizes_and_a_preload_beyond_proof_are_said():
    answer = run("bolt-torque", asked(thread="M24x3", share_of_proof=q(105, "%"),
                                      scatter={"set": "nsts-08307", "method": "ultrasonic"}), "metric")  # fmt: skip
    assert any("up to 3/4 in" in one for one in answer["warnings"])
    assert any("stretched for good" in one for one in answer["warnings"])


def test_losses_come_off_the_low_end_only():
    embedment = {"depth": q(9.5, "um"), "bolt_resilience": 2.5, "joint_resilience": 0.5}
    plain, less = (run("bolt-torque", asked(embedment=one), "metric") for one in (None, embedment))
    # VDI 2230 (from memory): 9.5 um over 3 um/kN costs 3167 N.
    assert less["embedding_loss"]["value"] == pytest.approx(3166.7, rel=0.001)
    low, high = (
        plain["preload_range"][end]["value"] - less["preload_range"][end]["value"]
        for end in ("low_after_losses", "high")
    )
    assert (low, high) == (pytest.approx(3166.7, rel=0.001), 0)


def test_passes_come_with_their_torque_and_end_full():
    shares = [q(25, "%"), q(60, "%"), q(100, "%")]
    answer = run(
        "bolt-torque",
        asked(pattern={"positions": 6, "order": "middle-outward", "segments": 2, "shares": shares}),
        "metric",
    )
    assert answer["pass_shares_from"] == "as given"
    assert answer["passes"][0]["positions"] == [2, 1, 3, 5, 4, 6]
    assert answer["passes"][-1]["torque"] == answer["torque"]
    assert answer["passes"][0]["torque"]["value"] == pytest.approx(answer["torque"]["value"] / 4)
    assert "from memory" in run("bolt-torque", asked(), "metric")["pass_shares_from"]


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"thread": None}, "thread", "Say which thread"),
        ({"thread": "M16"}, "thread", "M16x2 is the coarse thread"),
        ({"strength": None}, "strength", "property class"),
        ({"strength": "45H"}, "strength", "Choose one of"),
        ({"thread": "M42x4.5"}, "strength", "covers"),
        ({"proof_strength": q(600, "MPa")}, "strength", "not both"),
        ({"yield_strength": q(600, "MPa")}, "yield_strength", "leave this out"),
        (
            {"strength": None, "proof_strength": q(600, "MPa"), "yield_strength": q(500, "MPa")},
            "yield_strength",
            "not below",
        ),
        ({"share_of_proof": None}, "torque", "Give the torque"),
        ({"torque": q(80, "N*m")}, "share_of_proof", "torque is given already"),
        ({"share_of_proof": q(130, "%")}, "share_of_proof", "At most 120 %"),
        ({"share_of_proof": None, "torque": q(80, "J")}, "torque", "not an energy"),
        ({"nut_factor": None}, "nut_factor", "none is assumed"),
        ({"nut_factor": {"value": 0.2}}, "nut_factor.source", "where this number is from"),
        ({"nut_factor": {"value": 7, "source": "x"}}, "nut_factor.value", "lies between"),
        ({"nut_factor": {"value": 0.2, "source": "x", "set": "shigley"}}, "nut_factor.value", "not both"),
        ({"nut_factor": {"set": "shigley"}}, "nut_factor.condition", "Choose one of: bare"),
        ({"nut_factor": {"condition": "bare"}}, "nut_factor.set", "Name the table"),
        ({"friction": FRICTION}, "friction", "not both"),
        (BY_FRICTION | {"friction": FRICTION | {"bearing_diameter": None}}, "friction.bearing_diameter", "needs"),
        (BY_FRICTION | {"friction": FRICTION | {"thread": 3}}, "friction.thread", "between 0.01 and 1"),
        (BY_FRICTION | {"friction": {}}, "friction.form", "Name the long form"),
        ({"scatter": {"set": "mil-hdbk-60", "method": "stretch"}}, "scatter.method", "Choose one of: feel"),
        ({"scatter": {"value": q(120, "%"), "source": "x"}}, "scatter.value", "At most 99 %"),
        ({"relaxation": 0.05}, "relaxation", "needs its unit"),
        ({"embedment": {"depth": q(9, "um")}}, "embedment.bolt_resilience", "stretch per kN"),
        ({"pattern": {"positions": 2.5}}, "pattern.positions", "whole number from 1 to 64"),
        ({"pattern": {"positions": 8, "segments": 2}}, "pattern.segments", "middle outward"),
        ({"pattern": {"positions": 8, "order": "middle-outward", "segments": 3}}, "pattern.segments", "evenly"),
        ({"pattern": {"positions": 8, "shares": [q(90, "%")]}}, "pattern.shares", "at full torque"),
        ({"pattern": {"positions": 8, "shares": [q(0, "%"), q(100, "%")]}}, "pattern.shares.0", "greater than zero"),
        ({"pattern": {"positions": 8, "shares": "all"}}, "pattern.shares", "A list"),
        ({"nutfactor": {}}, "nutfactor", "Was “nut_factor” meant?"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_beside_its_field(changes, field, said):
    errors = refused(**changes)
    assert said in errors[field], errors


def test_all_errors_are_told_at_once():
    assert len(refused(thread=None, strength=None, nut_factor=None, share_of_proof=None)) == 4


TYPED = {
    "method": "nut-factor", "units": "metric", "thread": "M16x2", "strength": "8.8", "share_of_proof": "75",
    "nut_factor": "shigley / lubricated", "scatter": "nasa-std-5020b / torque, lubricated", "torque_tolerance": "4 %",
    "positions": "8", "order": "opposite", "shares": "30, 70, 100",
}  # fmt: skip


@pytest.fixture
def page(client, mechanic):
    client.force_login(mechanic)
    return lambda **query: client.get("/calculations/bolt-torque/", query)


@pytest.mark.django_db
def test_the_page_gives_what_the_request_gives(page):
    shown = page(**TYPED)
    assert shown.status_code == 200
    text = shown.content.decode()
    answer = run("bolt-torque", asked(), "metric")
    assert f"{answer['torque']['value']:.1f}\xa0N·m" in text
    assert "1, 5, 3, 7, 2, 6, 4, 8" in text
    assert "Shigley, 9th ed., Table 8-15 p. 439, lubricated" in text
    assert "Worked out from" in text


@pytest.mark.django_db
def test_the_page_puts_an_error_beside_what_was_typed(page):
    text = page(**(TYPED | {"thread": "M16", "nut_factor_value": "0.2", "shares": "30, x"})).content.decode()
    assert "M16x2 is the coarse thread" in page(**(TYPED | {"thread": "M16"})).content.decode()
    assert 'id="f-shares_error"' in text
    assert 'value="30, x"' in text


@pytest.mark.django_db
def test_the_page_works_by_friction_in_inches(page):
    typed = {"method": "friction", "units": "us", "thread": "1/2-13", "strength": "SAE 5", "torque": "75",
             "form": "shigley", "mu_thread": "0.15", "mu_bearing": "0,15"}  # fmt: skip
    text = page(**typed).content.decode()
    # Shigley, 9th ed., p. 439: friction of 0.15 is a nut factor of about 0.20.
    assert "0.197" in text
    assert "At 90 % of yield" in text
    assert "No scatter is named" in text
