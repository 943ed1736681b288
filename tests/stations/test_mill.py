"""One mill and the train against rows and limits worked by hand."""

import pytest

from canewright.stations.mill import Imbibition, Mill, MillingTrain
from canewright.stations.pipework import Mixer
from canewright.streams import Bagasse, Cane, MillJuice, Power, Water
from tests.stations.alone import alone
from tests.stations.joined import flow, joined

ROUNDING = 1e-6
"""Relative: the answers are plain arithmetic, the solver closes to 1e-10."""

CANE = {
    "sucrose": 13.0,
    "reducing_sugars": 0.0,
    "ash": 0.0,
    "organics": 2.4,
    "fibre": 14.0,
    "soil": 0.0,
    "water": 70.6,
}
ENTRY = {
    "name": "mills",
    "kind": "milling_train",
    "cane": "cane",
    "imbibition": "imbibition water",
    "juice": "mixed juice",
    "bagasse": "bagasse",
}


def only_mill(**values):
    placed = alone(Mill, several=1)
    return placed.solve(**{f"feed0__{name}": value for name, value in CANE.items()}, **values)


def test_a_first_mill_has_the_row_of_the_illustrative_train():
    # Factory-control notes, section 9, mill 1: cane of 14 % fibre and 13 % pol; bagasse 57 %
    # moisture, pol 8.5, juice purity 80, fibre 32.38 %, extraction 71.73. By hand: bagasse
    # 14/0.32375 = 43.243 t with 24.649 t water, 3.676 pol and 0.919 of the 2.4 t non-pol;
    # juice 45.951 t water, 9.324 pol, 1.481 non-pol; free water 70.6 - 0.25 x 14 = 67.1 t.
    # Mixing: 9.3243 x 67.1/(13 x 45.951) = 104.74 %; non-sugars 1.481 x 67.1/(2.4 x 45.951)
    # = 90.11 %. Juice held: (43.243 - 14 - 3.5)/14 = 1.8388 t/t.
    solved = only_mill(moisture=57, mixing=104.74, non_sugar_mixing=90.11, bagacillo=0)
    bagasse = sum(solved[f"bagasse.{name}"] for name in CANE)
    hand = 2e-3  # relative, from four printed digits through two differences
    assert 100 * solved["bagasse.sucrose"] / bagasse == pytest.approx(8.5, rel=hand)
    assert 100 * solved["bagasse.fibre"] / bagasse == pytest.approx(32.38, rel=hand)
    assert 100 * solved["juice.sucrose"] / 13 == pytest.approx(71.73, rel=hand)
    purity = 100 * solved["bagasse.sucrose"]
    purity /= solved["bagasse.sucrose"] + solved["bagasse.organics"]
    assert purity == pytest.approx(80, rel=hand)
    assert solved["juice_held"] == pytest.approx(1.8388, rel=hand)


def test_cush_cush_is_crushed_with_the_rest():
    # Two feeds of half the cane give what one feed of it gives.
    whole = only_mill()
    halves = alone(Mill, several=2).solve(
        **{f"feed{k}__{name}": value / 2 for name, value in CANE.items() for k in (0, 1)}
    )
    for name in CANE:
        assert halves[f"juice.{name}"] == pytest.approx(whole[f"juice.{name}"], rel=1e-6, abs=1e-7)


def train(number, values=None, given=None, **entry):
    """A train solved by itself on 100 t/h of cane."""
    mills = [{} for _ in range(number)]
    entries = MillingTrain.expand({**ENTRY, "mills": mills, **entry})
    kinds = {"cane": Cane, "imbibition water": Water, "cush-cush": Bagasse, "power": Power}
    placed, streams = {}, {}
    for single in entries:
        cls = {"mill": Mill, "mixer": Mixer}[single["kind"]]
        ports = {name: single[name] for name in cls.ports if name in single}
        placed[single["name"]] = (cls, ports, (values or {}).get(single["name"], {}))
        for names in ports.values():
            for name in names if isinstance(names, list) else [names]:
                kind = kinds.get(name) or (Bagasse if "bagasse" in name else MillJuice)
                streams[name] = kind
    fed = {f"cane.{name}": value for name, value in CANE.items()}
    fed |= {"imbibition water.temperature": 50, "imbibition water.water": 30}
    return joined(placed, streams, {**fed, **(given or {})})


def test_perfect_mixing_extracts_what_the_limit_of_compound_imbibition_says():
    # Kremser, Hugot: left after N wet mills = 1/(1 + L + ... + L^N). Dry extraction 70 %, four
    # wet mills, L = 1.5 -> 97.725 % (factory-control notes, section 9).
    # Cane 14 sucrose, 14 fibre, 72 water: free water 68.5; 0.3 of it, 20.55, stays with each
    # bagasse beside 3.5 bound to fibre, and 1.5 x 20.55 is the imbibition. After wet mill k the
    # bagasse holds (L^(5-k) - 1)/(L^5 - 1) of the 4.2 t that the dry mill left.
    left = [4.2 * (1.5 ** (5 - k) - 1) / (1.5**5 - 1) for k in range(5)]
    values = {
        f"mill {k + 1}": {
            "moisture": 100 * 24.05 / (14 + 24.05 + sugar),
            "mixing": 100,
            "bagacillo": 0,
        }
        for k, sugar in enumerate(left)
    }
    cane = {f"cane.{name}": 0.0 for name in CANE}
    cane |= {"cane.sucrose": 14, "cane.fibre": 14, "cane.water": 72}
    solved = train(5, values, {**cane, "imbibition water.water": 1.5 * 20.55})
    assert 100 * solved["mixed juice.sucrose"] / 14 == pytest.approx(97.725, abs=0.001)  # printed
    for k, sugar in enumerate(left[:-1]):
        assert solved[f"bagasse of mill {k + 1}.sucrose"] == pytest.approx(sugar, rel=ROUNDING)


@pytest.mark.parametrize("number", [3, 4, 5, 6, 7, 8])
@pytest.mark.parametrize("juice_from", [1, 2])
def test_trains_of_any_length_balance(number, juice_from):
    solved = train(number, juice_from=juice_from)
    out = flow(solved, "mixed juice") + flow(solved, "bagasse")
    assert out == pytest.approx(130, rel=1e-7)  # cane 100 and water 30; solver
    assert solved["mixed juice.sucrose"] > 11  # any train leaves less than 2 of 13 t


def test_more_mills_extract_more():
    extracted = [train(number)["mixed juice.sucrose"] for number in (3, 5, 7)]
    assert extracted == sorted(extracted)


def test_cush_cush_and_power_reach_their_mills():
    given = {f"cush-cush.{name}": 0.0 for name in CANE} | {
        "cush-cush.fibre": 1.0,
        "cush-cush.water": 4.0,
        "cush-cush.sucrose": 0.6,
    }
    solved = train(4, given=given, cush_cush="cush-cush")
    assert flow(solved, "mixed juice") + flow(solved, "bagasse") == pytest.approx(135.6, rel=1e-7)
    entries = MillingTrain.expand({**ENTRY, "mills": [{}] * 3, "power": "drives"})
    assert [single.get("power") for single in entries] == ["drives"] * 3 + [None]


def test_a_train_is_written_out_mill_by_mill():
    entries = MillingTrain.expand(
        {**ENTRY, "name": "old tandem", "moisture": "52 %", "mills": [{}, {}, {"moisture": "50 %"}]}
    )
    assert [single["name"] for single in entries] == [
        "old tandem mill 1",
        "old tandem mill 2",
        "old tandem mill 3",
        "old tandem mixed juice of mills",
    ]
    first, second, third, mixer = entries
    assert first["feed"] == ["cane"]
    assert "imbibition" not in first
    assert second["imbibition"] == "juice of old tandem mill 3"
    assert third["imbibition"] == "imbibition water"
    assert third["bagasse"] == "bagasse"
    assert [single["moisture"] for single in (first, second, third)] == ["52 %", "52 %", "50 %"]
    assert mixer["mixture"] == "mixed juice"
    assert mixer["others"] == ["juice of old tandem mill 2"]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"mills": [{}]}, "two or more"),
        ({"mills": 5}, "one table a mill"),
        ({"mills": [{}, {"moistur": 50}]}, "mill 2: a mill has no 'moistur'"),
        ({"mills": [{}, {}], "juice_from": 3}, "from 1 to 2"),
        ({"mills": [{}, {}], "imbibtion": "x"}, "'imbibtion' is no word"),
        ({}, "'mills' is missing"),
    ],
)
def test_a_train_that_makes_no_sense_is_refused_with_a_sentence(change, sentence):
    with pytest.raises(ValueError, match=sentence):
        MillingTrain.expand({**ENTRY, **change})


def test_imbibition_follows_the_fibre_of_the_cane():
    # 200 % on 14 t/h of fibre: 28 t/h; the cane passes unchanged.
    placed = alone(Imbibition)
    cane = {f"cane_in__{name}": value for name, value in CANE.items()}
    solved = placed.solve(**cane, imbibition_percent_fibre=200, water_in__temperature=60)
    assert solved["water.water"] == pytest.approx(28, rel=ROUNDING)
    assert solved["water_in.water"] == pytest.approx(28, rel=ROUNDING)
    assert solved["cane_out.water"] == pytest.approx(70.6, rel=ROUNDING)
    assert solved["water.temperature"] == pytest.approx(60, rel=ROUNDING)
