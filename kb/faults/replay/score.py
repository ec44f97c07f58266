"""How good forecasts were: places, losses, calibration, and differences between two forecasters.

A forecast is a probability for each cause (0 for one that is not known yet) and for the unseen at
the end. What came true is a number of a cause, or the last number for one that was new.

Log loss and the quadratic score: I. J. Good, *J. R. Statist. Soc.* B 14 (1952) 107-114; G. W.
Brier, *Monthly Weather Review* 78 (1950) 1-3, here over all hypotheses.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import nan, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from kb.faults.proportions import wilson
from kb.faults.replay.past import Array
from kb.values import Interval
from kb.values_replay import CalibrationBin, Differences, Figures

EDGES = (0.0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
"""the bins of the calibration table"""
SURE = 0.95


class Forecasts:
    """The scores of one forecaster, question by question; `share` is what a question counts."""

    def __init__(self) -> None:
        self.share: list[float] = []
        self.loss: list[float] = []
        self.place: list[int] = []
        """the place of what came true among the known causes, 0 for one that was new"""
        self.brier: list[float] = []

    def add(self, p: Array, came: int, share: float = 1.0) -> None:
        """Score one forecast."""
        hit = float(p[came])
        new = came == len(p) - 1
        ahead = 0 if new else int((p[:-1] > hit).sum() + (p[:came] == hit).sum())
        self.share.append(share)
        self.loss.append(-float(np.log(hit)))
        self.place.append(0 if new else 1 + ahead)
        self.brier.append(float(p @ p) - 2.0 * hit + 1.0)

    def figures(self) -> Figures:
        """The means over the questions; not a number where there were none."""
        if not self.share:
            return Figures(nan, nan, nan, nan, nan)
        share, place = np.array(self.share), np.array(self.place)
        known = np.maximum(place, 1)
        rows = np.array(
            [
                place == 1,
                (place > 0) & (place <= 3),
                np.where(place > 0, 1.0 / known, 0.0),
                self.loss,
                self.brier,
            ]
        )
        return Figures(*(float(v) for v in rows @ share / share.sum()))

    @property
    def among_three(self) -> NDArray[np.bool_]:
        """Whether what came true was among the first three, for each question."""
        place = np.array(self.place)
        return np.asarray((place > 0) & (place <= 3))


def differences(ours: Forecasts, other: Forecasts, visits: Sequence[str]) -> Differences:
    """Ours less the other's on the same questions; `visits` names the visit of each.

    The questions of one visit are not independent, so the intervals go by the visits' means
    (ratio estimate, Student's t with a degree of freedom less than there are visits).
    """
    share = np.array(ours.share)
    loss = np.array(ours.loss) - np.array(other.loss)
    three = ours.among_three.astype(np.float64) - other.among_three
    visit = np.unique(np.array(visits), return_inverse=True)[1] if len(visits) else np.array([])
    means = [_mean(x, share, visit) for x in (loss, three)]
    return Differences(
        log_loss=means[0][0],
        log_loss_interval=means[0][1],
        top3=means[1][0],
        top3_interval=means[1][1],
    )


def _mean(values: Array, share: Array, visit: NDArray[np.int64]) -> tuple[float, Interval]:
    """The weighted mean with its interval; without two visits there is none."""
    if not len(values):
        return nan, (nan, nan)
    mean = float(values @ share / share.sum())
    off = np.bincount(visit, weights=share * (values - mean))
    if len(off) < 2:
        return mean, (nan, nan)
    error = sqrt(float(off @ off) * len(off) / (len(off) - 1)) / float(share.sum())
    reach = float(stdtrit(len(off) - 1, 0.5 + SURE / 2)) * error
    return mean, (mean - reach, mean + reach)


class Calibration:
    """What was said of each known cause, in bins, and how often it came true."""

    def __init__(self) -> None:
        self._count, self._share, self._square, self._said, self._came = np.zeros(
            (5, len(EDGES) - 1)
        )

    def add(self, p: Array, known: NDArray[np.bool_], came: int, share: float = 1.0) -> None:
        """Take in what one forecast said of each of the known causes."""
        said = p[:-1][known]
        bins = np.minimum(np.searchsorted(EDGES, said, side="right") - 1, len(EDGES) - 2)
        count = np.bincount(bins, minlength=len(EDGES) - 1)
        self._count += count
        self._share += share * count
        self._square += share**2 * count
        self._said += share * np.bincount(bins, weights=said, minlength=len(EDGES) - 1)
        if came < len(p) - 1:
            self._came[min(int(np.searchsorted(EDGES, p[came], "right")) - 1, len(EDGES) - 2)] += (
                share
            )

    def bins(self) -> tuple[CalibrationBin, ...]:
        """The bins in which anything was said."""
        found = []
        for i in np.flatnonzero(self._count):
            share = float(self._share[i])
            observed = min(float(self._came[i]) / share, 1.0)
            # Questions of one fault share a vote: as many independent ones would weigh the same.
            worth = max(round(share**2 / float(self._square[i])), 1)
            found.append(
                CalibrationBin(
                    low=EDGES[i],
                    high=EDGES[i + 1],
                    count=int(self._count[i]),
                    predicted=float(self._said[i]) / share,
                    observed=observed,
                    observed_interval=wilson(round(observed * worth), worth),
                )
            )
        return tuple(found)
