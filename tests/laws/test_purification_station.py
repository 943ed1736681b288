"""The clarifier and mud filter loop of the purification reference, per 100 t cane.

Mixed juice 105 t, pol 12.18 %, insolubles 0.5 %, P2O5 300 mg/kg 90 % out, CaO 0.150 t as
13.38 % milk, SO2 0.100 t 85 % out, bagacillo 0.9 t (50 % water), retention 80 %, cake
solids 26 %, mud solids 7 %, wash 1.2 times cake, displacement 60 %, flash 0.64 %.
"""

import pytest

from canewright.laws import mud_filtration as station
from canewright.laws.lime_and_phosphate import phosphate_solids, sulphite_solids

JUICE, POL, BAGACILLO = 105.0, 12.18, 0.9


def loop(retention=80.0, wash_ratio=1.2):
    """Solve the loop directly: the pol balance is linear in the pol of the clear juice."""
    new = station.new_insolubles(JUICE * 0.005, 0.100 * 0.85, JUICE * 300e-6 * 0.90)
    dry = BAGACILLO / 2
    solids = station.circulating_insolubles(new, dry, retention)
    mud = solids / 0.07
    cake = station.cake_mass(new, dry, 26.0)
    wash = wash_ratio * cake
    filtrate = station.filtrate_mass(mud, BAGACILLO, wash, cake)
    milk = 0.150 / 0.1338
    limed = JUICE + milk + 0.100 + filtrate
    clear = station.clear_juice_mass(limed, 0.64, mud)
    liquor = mud - solids
    diluted = liquor / (liquor + BAGACILLO / 2)
    left = station.soluble_left_after_wash(60.0, wash / (cake * 0.74))
    pol_cake_per_clear = station.pol_percent_cake(74.0, diluted, left)
    pol = JUICE * POL / (clear + cake * pol_cake_per_clear)
    return {
        "milk": milk,
        "new insolubles": new,
        "circulating": solids,
        "mud": mud,
        "cake": cake,
        "wash": wash,
        "filtrate": filtrate,
        "limed": limed,
        "clear juice": clear,
        "clear juice pol": pol,
        "cake pol": pol * pol_cake_per_clear,
        "loss": 100 * cake * pol * pol_cake_per_clear / (JUICE * POL),
        "filtrate pol": (pol * liquor - cake * pol * pol_cake_per_clear) / filtrate,
        "mass out": clear + cake + limed * 0.0064,
        "mass in": JUICE + milk + 0.100 + BAGACILLO + wash,
    }


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "printed", "half_digit"),
    [
        ("milk", 1.121, 0.0005),
        ("new insolubles", 0.7583, 0.00006),
        ("circulating", 1.0604, 0.00006),
        ("mud", 15.15, 0.005),
        ("cake", 4.647, 0.0006),
        ("wash", 5.577, 0.0006),
        ("filtrate", 16.98, 0.005),
        ("filtrate pol", 9.30, 0.006),
        ("limed", 123.20, 0.006),
        ("clear juice", 107.26, 0.006),
        ("clear juice pol", 11.840, 0.0006),
        ("cake pol", 1.921, 0.0006),
        ("loss", 0.698, 0.0006),
    ],
)
def test_stream_of_the_worked_station(name, printed, half_digit):
    assert loop()[name] == pytest.approx(printed, abs=half_digit)  # half a printed digit


def test_mass_of_the_station_closes():
    got = loop()
    assert got["mass out"] == pytest.approx(got["mass in"], abs=1e-10)  # rounding only


def test_new_insolubles_are_the_stoichiometric_solids():
    new = station.new_insolubles(0.525, 0.085, 0.02835)
    parts = 0.525 + sulphite_solids(0.085) + phosphate_solids(0.02835)
    # 64.06 against 64.066 and 2.185 against its exact ratio: 1 part in 10 000
    assert new == pytest.approx(parts, rel=1e-4)


def test_lower_retention_swells_mud_but_not_loss():
    good, poor = loop(retention=85.0), loop(retention=65.0)
    assert poor["mud"] > 1.25 * good["mud"]
    assert poor["filtrate"] > 1.2 * good["filtrate"]
    assert abs(poor["loss"] - good["loss"]) < 0.1 * good["loss"]


def test_less_wash_about_doubles_the_loss():
    ratio = loop(wash_ratio=0.6)["loss"] / loop(wash_ratio=1.2)["loss"]
    assert 1.8 < ratio < 2.3  # "less wash doubles the loss": halved wash
