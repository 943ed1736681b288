"""A small factory of our own imagining for tests: five mills, three effects, two strikes."""

import tomllib
from functools import cache

import casadi
import numpy as np

from canewright.engine.adjusting.reconcile import Measurement, Reconciler
from canewright.engine.adjusting.wild_readings import reconcile
from canewright.engine.equations.model import compile
from canewright.engine.equations.nominal import prepare
from canewright.engine.equations.points import Points
from canewright.engine.equations.simulate import simulate
from canewright.files.factory import factory_from

CANE = 200.0
MILLS = 5

HEAD = """
[factory]
name = "Small Holding (invented)"
shift_hours = 8
invented = true
products = ["raw sugar"]

[[hold]]
what = "water to mill 5.water"
at = "55 t/h"
by = "screen.fibre_held"

[[hold]]
what = "evaporator body 3.solids_percent"
at = "62 %"
by = "blow-off.flow"

[[station]]
name = "yard"
kind = "cane_yard"
cane = "cane"
cane_rate = "200 t/h"
"""

REST = """
[[station]]
name = "juice mixing"
kind = "mixer"
first = "juice of mill 1"
others = ["juice of mill 2"]
mixture = "raw juice"

[[station]]
name = "screen"
kind = "juice_screen"
juice_in = "raw juice"
juice_out = "mixed juice"
cush_cush = "cush-cush"

[[station]]
name = "juice section"
kind = "section_loss"
feed = "mixed juice"
out = "juice to heater"

[[station]]
name = "filtrate return"
kind = "mixer"
first = "juice to heater"
others = ["filtrate"]
mixture = "juice with filtrate"

[[station]]
name = "heater"
kind = "juice_heater"
surface = "600 m2"
juice_in = "juice with filtrate"
juice_out = "hot juice"
vapour = "vapour 1"
condensate = "condensate"

[[station]]
name = "clarifier"
kind = "clarifier"
juice_in = "hot juice"
clear_juice = "clear juice"
mud = "mud"

[[station]]
name = "filter"
kind = "mud_filter"
mud = "mud"
bagacillo = "cush-cush"
wash_water = "water"
cake = "filter cake"
filtrate = "filtrate"

[[station]]
name = "evaporator"
kind = "multiple_effect"
juice_in = "clear juice"
juice_out = "syrup"
steam = "exhaust"
exhaust_condensate = "exhaust condensate"
condensate = "condensate"
bodies = [
  { surface = "2100 m2", vapour = "vapour 1" },
  { surface = "1900 m2", vapour = "vapour 2" },
  { surface = "1600 m2", vapour = "last vapour" },
]

[[station]]
name = "boiling section"
kind = "section_loss"
feed = "syrup"
out = "syrup to tank"

[[station]]
name = "syrup tank"
kind = "tank"
feed = "syrup to tank"
out = "syrup to pans"
closing_mass = "60 t"

[[station]]
name = "A pan"
kind = "vacuum_pan"
feeds = ["syrup to pans", "melt"]
heating = "exhaust"
massecuite = "A massecuite"
vapour = "pan vapour"
condensate = "exhaust condensate"

[[station]]
name = "A machines"
kind = "centrifugals"
massecuite = "A massecuite"
wash = "water"
sugar = "A sugar"
molasses = "A molasses"

[[station]]
name = "C pan"
kind = "vacuum_pan"
feeds = ["A molasses"]
heating = "exhaust"
massecuite = "C massecuite"
vapour = "pan vapour"
condensate = "exhaust condensate"
purity_drop = [20, 28]
solids = [93, 95]

[[station]]
name = "C crystallisers"
kind = "crystalliser"
massecuite_in = "C massecuite"
massecuite_out = "cooled C massecuite"
water_in = "water"
water_out = "warm water"

[[station]]
name = "C machines"
kind = "centrifugals"
massecuite = "cooled C massecuite"
wash = "water"
sugar = "C sugar"
molasses = "final molasses"
film = [8, 16]
moisture = [1.5, 3]

[[station]]
name = "packing"
kind = "packing_line"
sugar = "A sugar"
bags = "raw sugar in bags"
rejects = "rejects"
net_content = "500 kg"

[[station]]
name = "remelt"
kind = "remelter"
feeds = ["C sugar", "rejects"]
water = "water"
melt = "melt"

[[station]]
name = "condenser"
kind = "condenser"
vapours = ["last vapour", "pan vapour"]
water_in = "water"
water_out = "warm water"

[[station]]
name = "boiler"
kind = "boiler"
bagasse = "bagasse"
feedwater = "water"
steam = "live steam"
blowdown = "blowdown"

[[station]]
name = "let-down"
kind = "let_down"
steam_in = "live steam"
spray = "water"
out = "exhaust"

[[station]]
name = "blow-off"
kind = "blow_off"
vapour = "exhaust"
flow = { value = "20 t/h", low = "0 t/h", high = "60 t/h" }

[[station]]
name = "water"
kind = "water_supply"
water = "water"

[[station]]
name = "raw sugar"
kind = "departure"
stream = "raw sugar in bags"

[[station]]
name = "molasses"
kind = "departure"
stream = "final molasses"

[[station]]
name = "cake to the fields"
kind = "departure"
stream = "filter cake"

[[station]]
name = "condensate surplus"
kind = "departure"
stream = "condensate"

[[station]]
name = "boiler condensate"
kind = "departure"
stream = "exhaust condensate"

[[station]]
name = "drain"
kind = "departure"
stream = "warm water"

[[station]]
name = "boiler drain"
kind = "departure"
stream = "blowdown"
"""


def mills(count=MILLS):
    """The milling train in TOML, with compound imbibition."""
    text = ""
    for k in range(1, count + 1):
        feed = "cane" if k == 1 else f"bagasse of mill {k - 1}"
        out = "bagasse" if k == count else f"bagasse of mill {k}"
        text += f'[[station]]\nname = "mill {k}"\nkind = "mill"\nfeed = "{feed}"\n'
        text += f'juice = "juice of mill {k}"\nbagasse = "{out}"\n'
        if k == count:
            text += 'imbibition = "water"\n'
        elif k > 1:
            text += f'imbibition = "juice of mill {k + 1}"\n'
    return text


def text(count=MILLS):
    """The factory file."""
    return HEAD + mills(count) + REST


@cache
def small_model():
    """The compiled factory."""
    return compile(factory_from(tomllib.loads(text())))


@cache
def small_truth():
    """Its solution with every setting and performance at the middle."""
    return simulate(small_model())


READ = """
cane weight, fibre | mixed_juice weight, brix, pol, insoluble_solids, colour
juice_of_mill_1 brix, pol | juice_of_mill_5 brix, pol | bagasse pol, moisture
water_to_mill_5 weight | filter_cake weight, pol, moisture
clear_juice weight, brix, pol, temperature, colour | syrup weight, brix, pol
syrup_tank_closing volume_held | syrup_tank_opening volume_held
a_massecuite brix, pol | a_molasses brix, pol | c_massecuite brix, pol | melt brix
final_molasses weight, brix, pol, reducing_sugars, ash
raw_sugar_in_bags weight, pol, moisture
live_steam flow | exhaust_from_let_down pressure | condensate_from_heater flow
"""
"""What is read in a shift: points and their analyses."""


def readings(text=READ):
    """(point, analysis) of every reading in a list like `READ`."""
    pairs = []
    for entry in text.strip().replace("\n", "|").split("|"):
        point, _, analyses = entry.strip().partition(" ")
        pairs += [(point, analysis.strip()) for analysis in analyses.split(",")]
    return pairs


@cache
def small_prepared():
    """The factory compiled, solved at its usual point and scaled by it."""
    return prepare(small_model().factory)


@cache
def small_reconciler(text=READ):
    """Its reconciliation for what a list like `READ` says is read."""
    prepared = small_prepared()
    points = Points(prepared.model)
    channels = [points.channel(*pair) for pair in readings(text)]
    return Reconciler(prepared.model, channels, prepared.statements)


def true_readings(reconciler, solved):
    """What perfect instruments would read of a solved factory."""
    model = reconciler.model
    function = casadi.Function(
        "read", [reconciler.variables, model.parameters], [casadi.vertcat(*reconciler.plain)]
    )
    return np.array(function(reconciler.start(solved.values), solved.parameters)).ravel()


def made_up_shift(reconciler, truth, seed, off=None):
    """Readings of a shift: truth, instruments' biases, noise, and what is planted (`off`)."""
    rng = np.random.default_rng(seed)
    biases = {instrument: rng.normal() for instrument in reconciler.instruments}
    found = []
    for channel, value in zip(reconciler.channels, truth, strict=True):
        share = abs(value) / 100
        bias = biases[channel.instrument] * channel.bias * (share if channel.bias_relative else 1)
        noise = rng.normal() * channel.random * (share if channel.random_relative else 1)
        read = value + bias + noise + (off or {}).get(channel.name, 0.0)
        found.append(Measurement(channel.point, channel.analysis, read))
    return found


@cache
def usual_readings():
    """What perfect instruments read at the usual point."""
    return true_readings(small_reconciler(), small_prepared().usual)


def balanced(seed, off=None, truth=None):
    """The reconciled estimate of a made-up shift."""
    reconciler = small_reconciler()
    measurements = made_up_shift(
        reconciler, usual_readings() if truth is None else truth, seed, off
    )
    return reconcile(reconciler, measurements, small_prepared().usual.values)
