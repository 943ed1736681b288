"""A day's laboratory: 300 analyses with uncertainties and correlations, and the start of `lab`.

Run `python benchmarks/laboratory.py`. Ratios, not seconds, are what is promised:

* 300 analyses with uncertainties and their covariance, in under 5 times the cost of the same
  arithmetic in plain NumPy: the same differences and the same products, written out by hand
  with neither methods nor steps nor names of error sources;
* `canewright lab` in under 1.5 times bare Python plus the libraries it imports, and without
  the solver.

The cost beside the results alone, without uncertainties, is printed too.
"""

import os
import subprocess
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line sets it

import numpy as np

from canewright.laboratory.ash import ash_of_raw_sugar, conductivity_at_20
from canewright.laboratory.method import methods
from canewright.laboratory.polarimetry import (
    pol_at_20,
    pol_of_unweighed_juice,
    pol_of_weighed_sample,
    rotation_before_dilution,
    rotation_in_200_mm,
)
from canewright.laboratory.propagation import correlated, propagate
from canewright.laboratory.refractometry import refractometer_brix
from canewright.laboratory.weighing import loss_on_drying

PROMISED_ARITHMETIC, PROMISED_START = 5.0, 1.5
ROUNDS = 300
STARTS = 11

RANDOM = np.random.default_rng(1)


def drawn(count, **middles):
    """Readings of `count` determinations around their usual values, 1 % apart."""
    return {name: value * RANDOM.normal(1, 0.01, count) for name, value in middles.items()}


DAY = {
    "brix_of_juice": drawn(80, reading=14.2, temperature=25.0),
    "brix_of_syrup": drawn(40, reading=60.0, temperature=27.0),
    "pol_of_juice": {
        **drawn(80, rotation=43.7, brix=14.2, temperature=26.0, reducing_sugars=0.7),
        "sample_taken": np.full(80, 100.0), "made_up_to": np.full(80, 110.0),
    },
    "pol_of_syrup": drawn(40, rotation=26.0, sample_mass=13.0, temperature=26.0),
    "moisture_of_bagasse": {
        "dish": np.full(30, 500.0), "dish_and_sample": np.full(30, 1500.0),
        "dish_and_dry": RANDOM.normal(1005, 4, 30),
    },
    "ash_by_conductivity": drawn(30, conductivity=215.0, water_conductivity=2.0, temperature=21.0),
}  # fmt: skip


# The same arithmetic by hand: formulas called straight, in the order of the inputs.
def pol_of_juice(v):
    rotation = rotation_before_dilution(
        rotation_in_200_mm(v["rotation"], v["zero"], v["tube_length"]),
        v["sample_taken"], v["made_up_to"],
    )  # fmt: skip
    pol = pol_of_unweighed_juice(rotation, v["brix"])
    return pol_at_20(pol, v["temperature"], v["coefficient"], v["reducing_sugars"])


def pol_of_syrup(v):
    rotation = rotation_in_200_mm(v["rotation"], v["zero"], v["tube_length"])
    pol = pol_of_weighed_sample(rotation, v["sample_mass"])
    return pol_at_20(pol, v["temperature"], v["coefficient"], v["reducing_sugars"])


def ash(v):
    solution, water = (
        conductivity_at_20(v[what] * v["cell_factor"], v["temperature"])
        for what in ("conductivity", "water_conductivity")
    )
    return ash_of_raw_sugar(solution, water, v["sample_mass"])


PLAIN = {
    "brix_of_juice": lambda v: refractometer_brix(v["reading"], v["temperature"]),
    "brix_of_syrup": lambda v: refractometer_brix(v["reading"], v["temperature"]),
    "pol_of_juice": pol_of_juice,
    "pol_of_syrup": pol_of_syrup,
    "moisture_of_bagasse": lambda v: loss_on_drying(
        v["dish"], v["dish_and_sample"], v["dish_and_dry"]
    ),
    "ash_by_conductivity": ash,
}


def full(name):
    """Readings of a method with its defaults, as plain arrays."""
    count = next(iter(DAY[name].values())).size
    method = methods()[name]
    return {key: np.broadcast_to(value, count) for key, value in method.filled(DAY[name]).items()}


FULL = {name: full(name) for name in DAY}
SOURCES = list(
    dict.fromkeys(raw.shared for name in DAY for raw in methods()[name].inputs if raw.shared)
)
INPUTS = {
    name: [
        (raw.name, raw.uncertainty, raw.relative, SOURCES.index(raw.shared) if raw.shared else -1)
        for raw in methods()[name].inputs
        if raw.name in FULL[name] and raw.uncertainty > 0
    ]
    for name in DAY
}
SAMPLING = {name: methods()[name].sampling for name in DAY}


def results_alone():
    """The 300 results and nothing else."""
    return np.concatenate([PLAIN[name](FULL[name]) for name in DAY])


def plain_numpy():
    """The 300 results, their uncertainties and covariance, by hand."""
    values, owns, loadings = [], [], []
    for name, given in FULL.items():
        inputs, function = INPUTS[name], PLAIN[name]
        count = given[inputs[0][0]].size
        stacked = {k: np.repeat(v[None], 2 * len(inputs) + 1, axis=0) for k, v in given.items()}
        widths = []
        for k, (key, _, _, _) in enumerate(inputs):
            width = 1e-4 * (np.abs(given[key]) + 1e-3)
            stacked[key][2 * k + 1] += width
            stacked[key][2 * k + 2] -= width
            widths.append(width)
        found = function(stacked)
        squares = np.full(count, SAMPLING[name] ** 2)
        loading = np.zeros((count, len(SOURCES)))
        for k, (key, size, relative, source) in enumerate(inputs):
            slope = (found[2 * k + 1] - found[2 * k + 2]) / (2 * widths[k])
            part = slope * (np.abs(given[key]) * size / 100 if relative else size)
            if source < 0:
                squares = squares + part**2
            else:
                loading[:, source] += part
        values.append(found[0])
        owns.append(squares)
        loadings.append(loading)
    own, loading = np.concatenate(owns), np.concatenate(loadings)
    covariance = loading @ loading.T
    covariance.flat[:: len(own) + 1] += own
    return np.concatenate(values), covariance


def through_methods():
    """The same through the methods of the laboratory."""
    day = correlated(
        [propagate(methods()[name], given, published=False) for name, given in DAY.items()]
    )
    return day.value, day.covariance


def best(*calls, rounds=ROUNDS):
    """Shortest time of each call, taken in turn so that all meet the same machine."""
    times = [[] for _ in calls]
    for _ in range(rounds):
        for call, kept in zip(calls, times, strict=True):
            begun = time.perf_counter()
            call()
            kept.append(time.perf_counter() - begun)
    return [min(kept) for kept in times]


def fresh(source):
    """A fresh Python that runs this source."""
    return lambda: subprocess.run([sys.executable, "-c", source], check=True, capture_output=True)


LIST_METHODS = "from canewright.cli.main import main\ntry: main(['lab'])\nexcept SystemExit: pass\n"


def start_ratio():
    """Time of `canewright lab` over that of Python with all that it imports from elsewhere."""
    tell = LIST_METHODS + "import sys; print(*sys.modules, file=sys.stderr)"
    told = subprocess.run(
        [sys.executable, "-c", tell], check=True, capture_output=True, text=True
    ).stderr.split()
    names = [name for name in told if name.split(".")[0] not in ("canewright", "__main__")]
    libraries = f"import importlib\nfor name in {names}: importlib.import_module(name)"
    lab, bare = best(fresh(LIST_METHODS), fresh(libraries), rounds=STARTS)
    return lab / bare, {name.split(".")[0] for name in names}


def main():
    values, covariance = plain_numpy()
    found, found_covariance = through_methods()
    assert values.size == 300
    assert np.allclose(values, found, rtol=1e-12)
    # Slopes by differences of two sizes: the same to the square of the step.
    assert np.allclose(covariance, found_covariance, rtol=1e-5, atol=1e-9 * covariance.max())
    alone, plain, ours = best(results_alone, plain_numpy, through_methods)
    print(f"results alone in plain NumPy        {1e3 * alone:8.3f} ms")
    print(f"with uncertainties, plain NumPy     {1e3 * plain:8.3f} ms")
    print(f"with uncertainties, through methods {1e3 * ours:8.3f} ms")
    print(f"ratio to the same arithmetic        {ours / plain:8.2f}   promised < 5")
    print(f"ratio to the results alone          {ours / alone:8.2f}")
    kept = ours / plain < PROMISED_ARITHMETIC
    if (Path(__file__).parents[1] / "src/canewright/cli/lab_command.py").is_file():
        ratio, libraries = start_ratio()
        print(f"start of `canewright lab`           {ratio:8.2f}   promised < 1.5")
        heavy = sorted(libraries & {"casadi", "scipy", "pint"})
        print(f"heavy libraries imported: {', '.join(heavy) or 'none'}")
        kept = kept and ratio < PROMISED_START and "casadi" not in libraries
    sys.exit(0 if kept else 1)


if __name__ == "__main__":
    main()
