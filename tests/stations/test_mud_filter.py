"""The loop of clarifier and mud filter against the station balance worked in the notes."""

import pytest

from canewright.laws import mud_filtration
from canewright.stations.clarifier import Clarifier
from canewright.stations.liming import LimingTank
from canewright.stations.mud_filter import MudFilter
from canewright.stations.pipework import Mixer
from canewright.streams import (
    Bagasse,
    Cake,
    ClearJuice,
    Filtrate,
    Juice,
    MilkOfLime,
    Mud,
    Vapour,
    Water,
)
from tests.stations.alone import alone
from tests.stations.joined import flow, joined

MOIST = ("sucrose", "reducing_sugars", "ash", "organics", "soil", "water")
STREAMS = {
    "mixed juice": Juice,
    "with filtrate": Juice,
    "milk": MilkOfLime,
    "limed": Juice,
    "clear": ClearJuice,
    "mud": Mud,
    "flash": Vapour,
    "bagacillo": Bagasse,
    "wash": Water,
    "cake": Cake,
    "filtrate": Filtrate,
}

# Purification notes, section 13, per 100 t cane: mixed juice 105 t (with 0.100 t of SO2 in it
# 105.1), pol 12.18 %, insolubles 0.5 %; 85 kg SO2 and 28.35 kg P2O5 precipitate; CaO 0.150 t as
# 1.121 t of milk; bagacillo 0.9 t with 50 % water; retention 80 %, mud 7 % and cake 26 %
# insoluble; wash 1.2 x cake, E 60 %; 0.64 % of the limed juice flashes off.
SUCROSE = 0.1218 * 105
ASH = 0.100 + 0.0315
FEED = {
    "mixed juice.sucrose": SUCROSE,
    "mixed juice.reducing_sugars": 0,
    "mixed juice.ash": ASH,
    "mixed juice.organics": 0,
    "mixed juice.fibre": 0,
    "mixed juice.soil": 0.525,
    "mixed juice.water": 105.1 - SUCROSE - ASH - 0.525,
    "mixed juice.colour": 150_000,
    # The worked balance counts only what fresh juice brings: so 99 and 100 % of just that
    # precipitate here, and next to nothing comes round again with the filtrate.
    "mixed juice.sulphite": 85 / 0.99,
    "mixed juice.phosphate": 28.35,
    "mixed juice.lime": 20,
    "mixed juice.temperature": 70,
    "milk.ash": 0.150,
    "milk.soil": 0,
    "milk.water": 0.971,
    "milk.lime": 150,
    "bagacillo.sucrose": 0,
    "bagacillo.reducing_sugars": 0,
    "bagacillo.ash": 0,
    "bagacillo.organics": 0,
    "bagacillo.soil": 0,
    "bagacillo.water": 0.45,
    "wash.temperature": 70,
}
# Cake of 26 % insolubles has 74 % liquid, 1.921 % of it sucrose and 0.01 % ash (the juice
# holds 0.06 t of ash to 12.8 t of sucrose): 72.07 % moisture.
STATIONS = {
    "return": (
        Mixer,
        {"first": "mixed juice", "others": ["filtrate"], "mixture": "with filtrate"},
        {},
    ),
    "liming": (
        LimingTank,
        {"juice_in": "with filtrate", "milk_of_lime": "milk", "juice_out": "limed"},
        {
            "sulphite_precipitated": 99,
            "phosphate_precipitated": 100,
            "organics_precipitated": 0,
        },
    ),
    "clarifier": (
        Clarifier,
        {"juice_in": "limed", "clear_juice": "clear", "mud": "mud", "vent": "flash"},
        {"mud_solids": 7, "vented": 0.64, "inversion_factor": 0, "colour_removal": 40},
    ),
    "filter": (
        MudFilter,
        {
            "mud": "mud",
            "bagacillo": "bagacillo",
            "wash_water": "wash",
            "cake": "cake",
            "filtrate": "filtrate",
        },
        {
            "bagacillo_rate": 100 * 0.45 / 1.0604,
            "wash_rate": 120,
            "retention": 80,
            "cake_moisture": 72.07,
            "wash_efficiency": 60,
        },
    ),
}


@pytest.fixture(scope="module")
def loop():
    return joined(STATIONS, STREAMS, FEED)


@pytest.mark.parametrize(
    ("stream", "printed"),
    [
        ("mud", 15.15),
        ("cake", 4.647),
        ("wash", 5.577),
        ("filtrate", 16.98),
        ("limed", 123.20),
        ("clear", 107.26),
    ],
)
def test_the_worked_loop_has_its_flows(loop, stream, printed):
    # 0.1 %: the notes give four digits, and 0.2 kg/h of sulphite comes round again.
    assert flow(loop, stream) == pytest.approx(printed, rel=1e-3)


def test_the_worked_loop_loses_its_sucrose(loop):
    percent = {
        name: 100 * loop[f"{name}.sucrose"] / flow(loop, name)
        for name in ("filtrate", "clear", "cake")
    }
    assert percent["filtrate"] == pytest.approx(9.30, abs=0.01)  # printed to three digits
    assert percent["clear"] == pytest.approx(11.840, abs=0.005)  # 0.06 t of ash displaces 0.05 %
    assert percent["cake"] == pytest.approx(1.921, abs=0.003)  # as the moisture of the cake
    loss = 100 * loop["cake.sucrose"] / SUCROSE
    assert loss == pytest.approx(0.698, abs=0.002)  # as above
    assert loop["clear.sucrose"] + loop["cake.sucrose"] == pytest.approx(SUCROSE, rel=1e-8)


def test_retention_read_from_three_solids_contents_comes_back():
    # Rt = 100 k (m - f)/[m (k - f)], the balance without bagacillo and without wash.
    solved = alone(MudFilter).solve(
        **{f"bagacillo__{name}": 0 for name in MOIST},
        bagacillo_rate=0,
        wash_rate=0,
        retention=79.8,
    )
    solids = {
        name: 100
        * (solved[f"{name}.fibre"] + solved[f"{name}.soil"])
        / sum(solved.get(f"{name}.{part}", 0) for part in (*MOIST, "fibre"))
        for name in ("mud", "filtrate", "cake")
    }
    read = mud_filtration.retention(solids["mud"], solids["filtrate"], solids["cake"])
    assert read == pytest.approx(79.8, rel=1e-6)  # arithmetic
