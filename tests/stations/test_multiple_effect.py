"""Whole evaporators through the flowsheet: a constructed quintuple and textbook triples."""

import pytest

from canewright.engine.equations.model import compile
from canewright.engine.equations.simulate import simulate
from canewright.flowsheet import Factory, Hold, StationEntry
from canewright.model import Outlet, Setting, Station
from canewright.model import station as station_module
from canewright.properties import steam
from canewright.stations.multiple_effect import MultipleEffect
from canewright.streams import ClearJuice, Vapour
from canewright.units.conversion import parse_quantity

POUND = 0.45359237e-3
"""t in one lb."""

SPOTLESS = {
    "holdup": 0.0,
    "inversion_factor": 0.0,
    "entrainment": 0.0,
    "colour_formation": 0.0,
    "liquid_level": 0.0,
    "nonsucrose_molar_mass": 342.3,
}
"""Switches off what the constructed cases leave out; their elevation is of pure sucrose."""


class TrialJuice(Station):
    """Clear juice of a given flow, Brix, purity and temperature, for trials of evaporators."""

    juice = Outlet(ClearJuice)
    flow = Setting("flow", "t/h", (100, 400))
    brix = Setting("dissolved solids", "%", (12, 18))
    purity = Setting("purity", "%", (80, 90), bounds=(50, 100))
    temperature = Setting("temperature", "degC", (95, 115))

    def equations(self):
        solids = self.flow * self.brix / 100
        rest = solids * (100 - self.purity) / 100
        yield "sucrose", self.juice.sucrose, solids * self.purity / 100
        yield "reducing sugars", self.juice.reducing_sugars, rest / 3
        yield "ash", self.juice.ash, rest / 3
        yield "organics", self.juice.organics, rest / 3
        yield "water", self.juice.water, self.flow - solids
        for name in ("colour", "sulphite", "lime", "phosphate"):
            yield name, getattr(self.juice, name), 10.0 * solids
        yield "temperature", self.juice.temperature, self.temperature


class TrialSteam(Station):
    """Saturated steam of a given pressure, as much as is drawn."""

    steam = Outlet(Vapour)
    pressure = Setting("pressure", "bar abs", (1.5, 3.0))

    def equations(self):
        yield "pressure", self.steam.pressure, self.pressure


class TrialVacuum(Station):
    """A condenser that holds a pressure and asks for no water."""

    vapour = station_module.Inlet(Vapour)
    pressure = Setting("pressure", "bar abs", (0.1, 0.2), bounds=(0.04, 1.0))

    def equations(self):
        yield "pressure", self.vapour.pressure, self.pressure


@pytest.fixture(autouse=True)
def trial_stations(monkeypatch):
    """Stations of the trials, known in this file only."""
    for cls in (TrialJuice, TrialSteam, TrialVacuum):
        monkeypatch.setitem(station_module._registered, cls.kind, cls)


def entries_of(train):
    """The train's entries as the factory holds them."""
    entries = []
    for raw in MultipleEffect.expand(train):
        cls = station_module.stations()[raw["kind"]]
        ports = {key: value for key, value in raw.items() if key in cls.ports}
        values = {
            key: parse_quantity(value, cls.quantities[key].unit)
            for key, value in raw.items()
            if key in cls.quantities
        }
        assert set(raw) == {"name", "kind", *ports, *values}
        entries.append(StationEntry(raw["name"], raw["kind"], ports, values))
    return entries


def evaporator(train, juice, exhaust, last, bleeds, holds=()):
    """A factory that is one evaporator with what it needs around it."""
    full = {
        "name": "evaporator",
        "kind": "multiple_effect",
        "juice_in": "clear juice",
        "juice_out": "syrup",
        "steam": "exhaust",
        "exhaust_condensate": "exhaust condensate",
        "condensate": "condensate",
        **train,
    }
    stations = [
        StationEntry("juice", "trial_juice", {"juice": "clear juice"}, juice),
        StationEntry("steam", "trial_steam", {"steam": "exhaust"}, {"pressure": exhaust}),
        *entries_of(full),
        StationEntry("vacuum", "trial_vacuum", {"vapour": "last vapour"}, {"pressure": last}),
        *(
            StationEntry(f"bleed of {name}", "blow_off", {"vapour": name}, {"flow": flow})
            for name, flow in bleeds.items()
        ),
        StationEntry("syrup out", "departure", {"stream": "syrup"}),
        StationEntry("boilers", "departure", {"stream": "exhaust condensate"}),
        StationEntry("hot water", "departure", {"stream": "condensate"}),
    ]
    return compile(Factory("trial", 8.0, tuple(stations), holds=tuple(holds)))


Q5_BODIES = [
    {"surface": "4000 m2", "vapour": "vapour 1"},
    {"surface": "3000 m2", "vapour": "vapour 2"},
    {"surface": "2000 m2", "vapour": "vapour 3"},
    {"surface": "1300 m2"},
    {"surface": "1200 m2", "vapour": "last vapour"},
]
Q5_JUICE = {"flow": 400.0, "brix": 15.0, "purity": 85.0, "temperature": 108.0}
Q5_BLEEDS = {"vapour 1": 60.0, "vapour 2": 40.0, "vapour 3": 20.0}


def quintuple(bodies=None, bleeds=None, holds=(), exhaust=2.10, last=0.16, juice=None, **common):
    train = {**SPOTLESS, "heat_loss": 1.0, "coefficient": 2.2, **common}
    train["bodies"] = [
        {**body, **(extra or {})}
        for body, extra in zip(Q5_BODIES, bodies or [None] * 5, strict=True)
    ]
    return evaporator(
        train, {**Q5_JUICE, **(juice or {})}, exhaust, last, bleeds or Q5_BLEEDS, holds
    )


# Case Q5: 400 t/h of 15 Brix and purity 85 at 108 degC, exhaust 2.10 bar, last vapour 0.16
# bar, k 2.2e-4, 1 % of heat lost, bleeds 60, 40 and 20 t/h. Worked outside this project's
# code with the same elevation, the additive enthalpy and IF97, and again with a second steam
# library, which agreed within 0.003 t/h. The table prints two decimals.
Q5_TABLE = {
    # effect: vapour pressure, elevation, boiling, heating t/h, vapour t/h, Brix out, U
    1: (1.5035, 0.496, 111.92, 140.28, 134.37, 22.59, 2.152),
    2: (1.0912, 0.780, 102.84, 74.37, 76.96, 31.80, 1.769),
    3: (0.7768, 1.121, 93.82, 38.26, 40.23, 40.42, 1.436),
    4: (0.5089, 1.512, 83.27, 22.16, 24.03, 48.23, 1.132),
    5: (0.1600, 2.725, 58.04, 26.66, 29.98, 63.535, 0.593),
}
Q5_FLASH = {1: 1.307, 2: 1.932, 3: 2.626}
HEATED_BY = ("exhaust", "vapour 1", "vapour 2", "vapour 3", "evaporator vapour 4")


def test_constructed_quintuple_row_by_row():
    solved = simulate(quintuple())
    for effect, row in Q5_TABLE.items():
        body = f"evaporator body {effect}"
        main = HEATED_BY[effect - 1]
        heating = main if effect == 1 else f"{main} to {body}"
        made = "last vapour" if effect == 5 else f"{HEATED_BY[effect]} from {body}"
        pressure, elevation, boiling, heated, vapour, brix, coefficient = row
        # Each within half of the last digit printed, plus 0.003 t/h for flows: the cubics for
        # enthalpy used here differ from IF97 by 0.06 in 2250 kJ/kg.
        assert solved[f"{body}.vapour_pressure"] == pytest.approx(pressure, abs=1e-4)
        assert solved[f"{body}.boiling_point_elevation"] == pytest.approx(elevation, abs=6e-4)
        assert solved[f"{body}.boiling_temperature"] == pytest.approx(boiling, abs=6e-3)
        assert solved[f"{heating}.water"] == pytest.approx(heated, abs=8e-3)
        assert solved[f"{made}.water"] == pytest.approx(vapour, abs=8e-3)
        assert solved[f"{body}.solids_percent"] == pytest.approx(brix, abs=5.5e-3)
        assert solved[f"{body}.heat_transfer_coefficient"] == pytest.approx(coefficient, abs=6e-4)
    for number, flash in Q5_FLASH.items():
        main = HEATED_BY[number + 1]
        name = f"{main} from evaporator condensate flash {number}.water"
        # Printed to 0.001 t/h; the second library differed by up to 0.003.
        assert solved[name] == pytest.approx(flash, abs=3e-3)


HALF_DIGIT_AND_LIBRARY = 0.05 + 0.003
"""Syrup Brix is printed with one decimal."""

CHANGES = {
    # what: (changes, steam and Brix at fixed exhaust, exhaust bar and steam at 65 Brix)
    "none": ({}, (140.28, 63.5), (2.191, 141.75)),
    "no condensate flash": ({"flash": False}, (142.76, 65.1), (2.095, 142.69)),
    "bleed moved from 1 to 2": (
        {"bleeds": {"vapour 1": 50.0, "vapour 2": 50.0, "vapour 3": 20.0}},
        (138.30, 64.5),
        (2.129, 138.77),
    ),
    "scale in 1": (
        {"bodies": [{"coefficient": 1.76}, None, None, None, None]},
        (138.00, 60.8),
        (2.364, 142.20),
    ),
    "scale in 5": (
        {"bodies": [None, None, None, None, {"coefficient": 1.76}]},
        (139.29, 59.9),
        (2.467, 144.85),
    ),
    "scale in all": ({"coefficient": 1.76}, (133.86, 52.2), (3.126, 148.54)),
    "20 t/h more water": (
        {"juice": {"flow": 420.0, "brix": 60.0 / 4.2}},
        (142.49, 59.1),
        (2.490, 148.80),
    ),
    "less vacuum": ({"last": 0.20}, (139.75, 61.1), (2.338, 143.54)),
}


@pytest.mark.parametrize("change", CHANGES)
def test_constructed_quintuple_with_one_change(change):
    settings, (taken, brix), (pressure, steam_at_65) = CHANGES[change]
    solved = simulate(quintuple(**settings))
    # Steam within half of the digit printed and 0.003 t/h between libraries.
    assert solved["exhaust.water"] == pytest.approx(taken, abs=8e-3)
    assert solved["evaporator body 5.solids_percent"] == pytest.approx(
        brix, abs=HALF_DIGIT_AND_LIBRARY
    )
    hold = Hold("evaporator body 5.solids_percent", 65.0, "steam.pressure")
    held = simulate(quintuple(holds=[hold], **settings))
    # Exhaust pressure is printed to 0.001 bar: 0.02 K, within which the libraries agree.
    assert held["steam.pressure"] == pytest.approx(pressure, abs=1e-3)
    assert held["exhaust.water"] == pytest.approx(steam_at_65, abs=8e-3)


def test_constructed_quintuple_with_head():
    # 0.3 m in every body: 136.97 t/h and 56.1 Brix; at 65 Brix 2.635 bar and 145.72 t/h. The
    # density behind the case is not stated. Taken at 20 degC instead of at the boiling point
    # it is 2 to 4 % higher, which shifts the four figures by 0.12 t/h, 0.21 %, 0.014 bar and
    # 0.10 t/h: nothing closer than that can be asked. Found: within 0.04, 0.09, 0.003, 0.02.
    solved = simulate(quintuple(liquid_level=0.3))
    assert solved["exhaust.water"] == pytest.approx(136.97, abs=0.12)
    assert solved["evaporator body 5.solids_percent"] == pytest.approx(56.1, abs=0.21)
    hold = Hold("evaporator body 5.solids_percent", 65.0, "steam.pressure")
    held = simulate(quintuple(holds=[hold], liquid_level=0.3))
    assert held["steam.pressure"] == pytest.approx(2.635, abs=0.014)
    assert held["exhaust.water"] == pytest.approx(145.72, abs=0.10)


def test_colder_feed_costs_steam():
    # Reference note to Q5: feed at 103 instead of 108 degC takes 3.40 t/h more steam at the
    # same exhaust pressure (two decimals, and 0.003 t/h between libraries, twice).
    warm, cold = simulate(quintuple()), simulate(quintuple(juice={"temperature": 103.0}))
    more = cold["exhaust.water"] - warm["exhaust.water"]
    assert more == pytest.approx(3.40, abs=0.011)


def triple(feed, feed_temperature, heating, boiling, last, coefficients, surfaces):
    """A triple for a liquor without elevation and with the specific heat of water.

    That is what two textbook examples assume: 0.1 % of solids comes near enough (0.02 K).
    """
    bodies = [
        {
            "surface": surface,
            # The constant that gives the printed coefficient at the printed temperature.
            "coefficient": coefficient / (110 * temperature) / 1e-4,
            "vapour": name,
        }
        for surface, coefficient, temperature, name in zip(
            surfaces, coefficients, boiling, ("first", "second", "last vapour"), strict=True
        )
    ]
    train = {**SPOTLESS, "heat_loss": 0.0, "flash": False, "bodies": bodies}
    juice = {"flow": feed, "brix": 0.1, "purity": 85.0, "temperature": feed_temperature}
    pressures = [float(steam.saturation_pressure(t)) for t in (heating, last)]
    return simulate(evaporator(train, juice, *pressures, {}))


def test_textbook_triple_of_gavhane():
    # Gavhane, Heat Transfer, example 6.13 (read): 4 kg/s at 294 K, 10 to 50 %, steam 394 K, dT
    # 18, 17 and 34 K, cp 4.18, latent 2200, 2249, 2293, 2377; U 3.1, 2.0, 1.1. Exactly: steam
    # 1.63626, first vapour 0.99099 kg/s, A1 64.51 m2. The others by hand: 2.0 x 17 x A2 =
    # 0.99099 x 2249, A2 65.55; V2 = (2228.7 + 3.00901 x 4.18 x 17)/2293 = 1.0652, A3 = 1.0652 x
    # 2293/(1.1 x 34) = 65.31.
    kelvin = 273.0
    boiling = [t - kelvin for t in (376.0, 359.0, 325.0)]
    solved = triple(
        4 * 3.6, 294 - kelvin, 394 - kelvin, boiling, boiling[-1], (3.1, 2.0, 1.1),
        (64.51, 65.55, 65.31),
    )  # fmt: skip
    # cp 4.18 there, 4.19 to 4.23 here: 0.6 % of the heat that warms the feed, which is 38 % of
    # the steam's and 62 % of the first vapour's, so 0.25 and 0.37 %; latent heats in whole
    # kJ/kg and 273 for 273.15 K 0.05 % each.
    assert solved["exhaust.water"] == pytest.approx(1.63626 * 3.6, rel=0.0035)
    assert solved["first.water"] == pytest.approx(0.99099 * 3.6, rel=0.005)
    for body, temperature in enumerate(boiling, start=1):
        # Surfaces and latent heats to 0.05 % of some 17 K, and the 0.35 % above.
        found = solved[f"evaporator body {body}.boiling_temperature"]
        assert found == pytest.approx(temperature, abs=0.1)


def test_textbook_triple_of_kern():
    # Kern, Process Heat Transfer, example 14.2 (read): 50 000 lb/h at 100 F, 10 to 50 %, steam
    # 244 F, vapours 224, 194, 125 F, cp 1, no elevation, latent 949, 961, 981, 1022 Btu/lb; U 600,
    # 250, 125; A 1510, 1588, 1512 ft2. Solved exactly: steam 19 052, vapours 12 363, 13 262,
    # 14 375 lb/h (printed 19 100, 12 400, 13 300, 14 300).
    boiling = [(t - 32) / 1.8 for t in (224.0, 194.0, 125.0)]
    solved = triple(
        50000 * POUND, (100 - 32) / 1.8, (244 - 32) / 1.8, boiling, boiling[-1],
        [u * 5.678263e-3 for u in (600, 250, 125)], [a * 0.09290304 for a in (1510, 1588, 1512)],
    )  # fmt: skip
    # Printed surfaces are 0.2 % over the exact ones, cp 1 Btu/lb is 0.5 % off at 60 to 105
    # degC in 37 % of the heat, latent heats are whole Btu/lb (0.05 %).
    assert solved["exhaust.water"] == pytest.approx(19052 * POUND, rel=0.005)
    assert solved["first.water"] == pytest.approx(12363 * POUND, rel=0.005)
    assert solved["second.water"] == pytest.approx(13262 * POUND, rel=0.005)
    assert solved["last vapour.water"] == pytest.approx(14375 * POUND, rel=0.005)


def test_every_component_leaves_the_evaporator():
    model = quintuple(holdup=20.0, inversion_factor=1.0, entrainment=10.0, hot_ph=6.2)
    solved = simulate(model)
    sucrose, made = 0.0, 0.0
    for effect in range(1, 6):
        before = "clear juice" if effect == 1 else f"juice of evaporator body {effect - 1}"
        after = "syrup" if effect == 5 else f"juice of evaporator body {effect}"
        sucrose += solved[f"{before}.sucrose"] - solved[f"{after}.sucrose"]
        made += solved[f"{after}.reducing_sugars"] - solved[f"{before}.reducing_sugars"]
    vapours = [*(f"{HEATED_BY[k]} from evaporator body {k}" for k in range(1, 5)), "last vapour"]
    carried = 10e-6 * sum(solved[f"{name}.water"] for name in vapours)
    # One molecule of sucrose makes two of invert: 360.32/342.30. Figures to 1e-9 of 51 t/h.
    assert made == pytest.approx((sucrose - carried) * 360.32 / 342.30, rel=1e-6)
    # The published profile (112, 104, 85, 60 degC, 11 to 22 min, hot pH 6.2) loses 0.135 %;
    # here five bodies hold 20 m3 each: 5 to 40 min, so the same order, not the same number.
    assert 0.05 < 100 * (sucrose - carried) / solved["clear juice.sucrose"] < 0.5
