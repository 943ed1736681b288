"""The reconciliation written out in Pyomo, operation by operation, and solved by cyipopt.

Pyomo hands a model to a solver as a text file, which it writes anew for each solve. What reads
that file (the ASL library) is in none of the wheels, so the file is written by Pyomo and timed,
and IPOPT is then run through cyipopt with the derivatives of CasADi on the same problem: less
than Pyomo with an `ipopt` program takes, which has to read the file and start a process besides.
"""

import tempfile
from pathlib import Path

import casadi
import numpy as np
import scipy.sparse as sparse

try:
    import cyipopt
    import pyomo.environ as pyomo
except ImportError:
    pyomo = None


def _operations():
    return {
        casadi.OP_ADD: lambda a, b: a + b,
        casadi.OP_SUB: lambda a, b: a - b,
        casadi.OP_MUL: lambda a, b: a * b,
        casadi.OP_DIV: lambda a, b: a / b,
        casadi.OP_NEG: lambda a: -a,
        casadi.OP_EXP: pyomo.exp,
        casadi.OP_LOG: pyomo.log,
        casadi.OP_SQRT: pyomo.sqrt,
        casadi.OP_SQ: lambda a: a**2,
        casadi.OP_TWICE: lambda a: 2 * a,
        casadi.OP_INV: lambda a: 1 / a,
        casadi.OP_POW: lambda a, b: a**b,
        casadi.OP_CONSTPOW: lambda a, b: a**b,
        casadi.OP_ASSIGN: lambda a: a,
    }


class PyomoProblem:
    """The scaled problem of `reconciliation.Scaled` as a Pyomo model."""

    def __init__(self, scaled):
        self.available = pyomo is not None
        if not self.available:
            return
        self.scaled = scaled
        variables, given, constraints, predictions = scaled.problem._symbols
        model = self.model = pyomo.ConcreteModel()
        low, high = scaled.bounds
        self.begin = np.clip(scaled.start / scaled.size, low, high)
        model.x = pyomo.Var(range(len(scaled.size)))
        for i, variable in model.x.items():
            variable.setlb(low[i] if np.isfinite(low[i]) else None)
            variable.setub(high[i] if np.isfinite(high[i]) else None)
        present = np.flatnonzero(np.isfinite(scaled.sd))
        model.value = pyomo.Param(present.tolist(), mutable=True, initialize=0.0)
        model.weight = pyomo.Param(present.tolist(), mutable=True, initialize=1.0)
        for i in present.tolist():
            model.value[i], model.weight[i] = scaled.values[i], 1 / scaled.sd[i]
        self.callbacks = Callbacks(scaled)
        model.shared = pyomo.Expression(pyomo.Any)
        function = casadi.Function("all", [variables, given], [constraints, predictions])
        rows, fitted = self._written(function)
        model.equations = pyomo.ConstraintList()
        for row, size in zip(rows, scaled.rows, strict=True):
            model.equations.add(row / size == 0)
        model.goal = pyomo.Objective(
            expr=0.5
            * sum((model.weight[i] * (fitted[i] - model.value[i])) ** 2 for i in present.tolist())
        )

    def _written(self, function):
        """Outputs of a function as Pyomo expressions; parts used more than once are named."""
        steps = range(function.n_instructions())
        uses, writer = np.zeros(len(steps), dtype=int), {}
        for k in steps:
            if function.instruction_id(k) != casadi.OP_INPUT:
                for place in function.instruction_input(k):
                    if place in writer:
                        uses[writer[place]] += 1
            if function.instruction_id(k) != casadi.OP_OUTPUT:
                writer[function.instruction_output(k)[0]] = k
        operations, work = _operations(), {}
        outputs = [[0.0] * function.numel_out(i) for i in range(2)]
        patterns = [function.sparsity_out(i).find() for i in range(2)]
        for k in steps:
            kind = function.instruction_id(k)
            inputs = function.instruction_input(k)
            if kind == casadi.OP_OUTPUT:
                which, entry = function.instruction_output(k)
                outputs[which][patterns[which][entry]] = work[inputs[0]]
                continue
            place = function.instruction_output(k)[0]
            if kind == casadi.OP_INPUT:
                which, entry = inputs
                if which == 0:
                    work[place] = self.model.x[entry] * float(self.scaled.size[entry])
                else:
                    work[place] = float(self.scaled.given[entry])
            elif kind == casadi.OP_CONST:
                work[place] = function.instruction_constant(k)
            else:
                value = operations[kind](*[work[i] for i in inputs])
                if uses[k] > 1 and not isinstance(value, float | int):
                    self.model.shared[k] = value
                    value = self.model.shared[k]
                work[place] = value
        return outputs

    def solve(self):
        """Write the file, then solve from the usual point."""
        with tempfile.TemporaryDirectory() as folder:
            self.model.write(str(Path(folder) / "shift.nl"), format="nl")
        low, high = self.scaled.bounds
        zeros = np.zeros(len(self.scaled.rows))
        problem = cyipopt.Problem(len(low), len(zeros), self.callbacks, low, high, zeros, zeros)
        for name, value in OPTIONS.items():
            problem.add_option(name, value)
        self.found, told = problem.solve(self.begin)
        assert told["status"] in (0, 1), told["status_msg"]

    def point(self):
        """Scaled variables as the last solve left them."""
        return self.found


OPTIONS = {
    "tol": 1e-9,
    "constr_viol_tol": 1e-9,
    "nlp_scaling_method": "none",
    "bound_relax_factor": 1e-10,
    "print_level": 0,
    "sb": "yes",
}


class Callbacks:
    """What cyipopt asks for, from the compiled functions."""

    def __init__(self, scaled):
        self.scaled = scaled
        self.goal, self.held = scaled.hessian()
        _, _, _, rows = scaled.at(scaled.start / scaled.size)
        places = rows.tocoo()
        self._structure = places.row, places.col
        both = [
            sparse.csc_array((np.ones(f.nnz_out(0)), _indices(f), _starts(f)), shape=f.size_out(0))
            for f in (self.goal, self.held)
        ]
        pattern = sparse.tril(both[0] + both[1], format="coo")
        self._hessian_structure = pattern.row, pattern.col

    def objective(self, x):
        return 0.5 * float(self.scaled.at(x)[0] @ self.scaled.at(x)[0])

    def gradient(self, x):
        misfits, _, data, _ = self.scaled.at(x)
        return data.T @ misfits

    def constraints(self, x):
        return self.scaled.at(x)[1]

    def jacobianstructure(self):
        return self._structure

    def jacobian(self, x):
        return self.scaled.at(x)[3].tocoo().data

    def hessianstructure(self):
        return self._hessian_structure

    def hessian(self, x, multipliers, factor):
        whole = factor * self.goal(x, multipliers).sparse() + self.held(x, multipliers).sparse()
        return np.asarray(whole.tocsr()[self._hessian_structure]).ravel()


def _indices(function):
    return np.array(function.sparsity_out(0).row())


def _starts(function):
    return np.array(function.sparsity_out(0).colind())
