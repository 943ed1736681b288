"""A Kalman filter and smoother as textbooks write them, for tests of the chain."""

from dataclasses import dataclass

import numpy as np


@dataclass
class Linear:
    """One shift of the chain, as the linear relations that hold at its point."""

    sensitivity: np.ndarray
    noise: np.ndarray
    readings: np.ndarray
    follow: np.ndarray
    closing: np.ndarray
    gradient: np.ndarray
    amounts: np.ndarray
    step: object
    to_mean: np.ndarray
    moved: np.ndarray | None = None


class Textbook:
    """Predict, update and smooth a state of carried variables, scatter and totals in one."""

    def __init__(self, carried, totals):
        self.carried, self.count = carried, carried.size
        self.level = np.flatnonzero(carried.is_level)
        self.totals = totals
        self.size = self.count + self.level.size + totals
        mean, spread = carried.beforehand()
        self.mean = np.zeros(self.size)
        self.spread = np.zeros((self.size, self.size))
        self.mean[: self.count] = mean
        self.spread[: self.count, : self.count] = spread
        self.history = []

    def inputs(self):
        """Matrix from the state to the inputs of a shift: carried plus scatter."""
        matrix = np.zeros((self.count, self.size))
        matrix[:, : self.count] = np.eye(self.count)
        matrix[self.level, self.count + np.arange(self.level.size)] = 1.0
        return matrix

    def move(self, transition, shift, noise):
        """x' = F x + u + w, kept for the smoother."""
        before = self.mean, self.spread
        self.mean = transition @ self.mean + shift
        self.spread = transition @ self.spread @ transition.T + noise
        self.history.append((*before, self.mean, self.spread, transition))

    def pass_on(self, step):
        """From one shift to the next, with new scatter."""
        transition, noise = np.eye(self.size), np.zeros((self.size, self.size))
        shift = np.zeros(self.size)
        carried = np.arange(self.count)
        transition[carried, carried] = step.keep
        shift[carried] = (1 - step.keep) * self.carried.home
        noise[carried, carried] = step.noise
        scatter = self.count + np.arange(self.level.size)
        transition[scatter, scatter] = 0.0
        noise[scatter, scatter] = self.carried.scatter[self.level]
        if step.renewed.any():
            mean, spread = self.carried.beforehand()
            stock = np.flatnonzero(step.renewed)
            transition[stock, stock] = 0.0
            shift[stock] = mean[stock]
            noise[np.ix_(stock, stock)] = spread[np.ix_(stock, stock)]
        self.move(transition, shift, noise)

    def read(self, linear):
        """Measurement update in the form of every textbook, then to the mean as is told."""
        matrix = linear.sensitivity @ self.inputs()
        linear.moved = self.spread @ self.inputs().T @ linear.to_mean
        innovations = matrix @ self.spread @ matrix.T + np.diag(linear.noise)
        gain = np.linalg.solve(innovations, matrix @ self.spread).T
        self.mean = self.mean + gain @ (linear.readings - matrix @ self.mean) + linear.moved
        left = np.eye(self.size) - gain @ matrix
        self.spread = left @ self.spread @ left.T + gain @ np.diag(linear.noise) @ gain.T

    def produce(self, linear, taken, forgotten):
        """The shift runs: stocks become closing ones, amounts are added to their totals."""
        transition, shift = np.eye(self.size), np.zeros(self.size)
        inputs = self.inputs()
        stock = np.flatnonzero(self.carried.is_stock)
        transition[stock] = linear.follow @ inputs
        shift[stock] = linear.closing
        first = self.count + self.level.size
        for total in forgotten:
            transition[first + total] = 0.0
        for total, amount in taken:
            transition[first + total] += linear.gradient[amount] @ inputs
            shift[first + total] += linear.amounts[amount]
        self.move(transition, shift, np.zeros((self.size, self.size)))

    def smoothed(self, after_moves):
        """Rauch, Tung and Striebel, back to just after the move with this number."""
        mean, spread = self.mean, self.spread
        for before, wide_before, after, wide, transition in reversed(
            self.history[after_moves + 1 :]
        ):
            size = np.sqrt(np.maximum(np.diag(wide), 1e-300))
            inverse = np.linalg.pinv(wide / np.outer(size, size), rcond=1e-13, hermitian=True)
            gain = wide_before @ transition.T @ (inverse / np.outer(size, size))
            mean = before + gain @ (mean - after)
            spread = wide_before + gain @ (spread - wide) @ gain.T
        return mean, spread
