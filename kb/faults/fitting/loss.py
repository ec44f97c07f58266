"""The loss of questions about the past in the weights of the findings, its slope and curvature."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from kb.faults.fitting.leave_out import Array
from kb.faults.fitting.questions import Block, Ints, Questions


def loss_of(questions: Questions, weights: Array) -> float:
    """The sum over the faults of their mean log loss."""
    row_weight = _by_row(questions, weights)
    loss = 0.0
    for block in questions.blocks:
        share, target = questions.share[block.askings], questions.target[block.askings]
        for scores in _questions(questions, block, row_weight):
            loss += _believe(scores, share, target, np.empty_like(scores))
    return loss


def loss_and_slope(questions: Questions, weights: Array) -> tuple[float, Array]:
    """The loss, and how it changes with each weight."""
    row_weight = _by_row(questions, weights)
    loss, slopes = 0.0, np.empty(len(row_weight))
    for block in questions.blocks:
        share, target = questions.share[block.askings], questions.target[block.askings]
        beliefs = []
        for scores in _questions(questions, block, row_weight):
            beliefs.append(np.empty_like(scores))
            loss += _believe(scores, share, target, beliefs[-1])
        # A finding bears on every question from its step on: their beliefs are summed backwards.
        later, mass = np.zeros((len(share), questions.start.shape[1])), np.zeros(len(share))
        for rows, belief in zip(reversed(block.steps), reversed(beliefs), strict=False):
            asked = slice(len(belief))
            later[asked] += belief
            mass[asked] += share[asked]
            logs = questions.logs[rows]
            slopes[rows] = np.einsum("ij,ij->i", logs, later[asked])
            slopes[rows] -= _hits(logs, target[asked]) * mass[asked]
        if not block.steps:
            later, mass = beliefs[0], share
        logs, of = questions.logs[block.first], block.of
        slopes[block.first] = np.einsum("ij,ij->i", logs, later[of])
        slopes[block.first] -= _hits(logs, target[of]) * mass[of]
    return loss, _by_finding(questions, slopes)


def curvature(questions: Questions, weights: Array) -> Array:
    """The second derivatives of the loss (findings, findings): covariances of log likelihoods."""
    row_weight = _by_row(questions, weights)
    number = len(questions.findings) + 1
    found = np.zeros(number * number)
    for block in questions.blocks:
        share, target = questions.share[block.askings], questions.target[block.askings]
        logs, finding = questions.logs[block.table], questions.finding[block.table]
        width = block.table.shape[1]
        each = np.zeros((len(share), width, width))
        for k, scores in enumerate(_questions(questions, block, row_weight)):
            belief, asked = np.empty_like(scores), len(scores)
            _believe(scores, share, target, belief)
            known = width - max(len(block.steps) - 1 - k, 0)
            part = logs[:asked, :known]
            weighed = part * belief[:, None, :]
            mean = weighed.sum(axis=2)
            square = weighed @ part.transpose(0, 2, 1)
            # Beliefs come multiplied by the share, so the square of their mean is divided by it.
            square -= mean[:, :, None] * (mean / share[:asked, None])[:, None, :]
            each[:asked, :known, :known] += square
        pairs = finding[:, :, None] * number + finding[:, None, :]
        found += np.bincount(pairs.ravel(), each.ravel(), number * number)
    return np.asarray(found.reshape(number, number)[:-1, :-1])


def _questions(questions: Questions, block: Block, row_weight: Array) -> Iterator[Array]:
    """The scores of the block's questions, step by step; each is changed into the next."""
    sums = block.sums
    sums.data = row_weight[block.first]  # to make a sparse table anew takes longer than to use it
    scores: Array = questions.start[block.askings] + sums @ questions.logs[block.first]
    if not block.steps:
        yield scores
    for step in block.steps:
        asked = scores[: step.stop - step.start]
        asked += row_weight[step, None] * questions.logs[step]
        yield asked


def _believe(scores: Array, share: Array, target: Ints, belief: Array) -> float:
    """The loss of some questions; their probabilities, times what each counts, go to `belief`."""
    share, target = share[: len(scores)], target[: len(scores)]
    top = scores.max(axis=1)
    np.subtract(scores, top[:, None], out=belief)
    np.exp(belief, out=belief)
    total = belief.sum(axis=1)
    belief *= (share / total)[:, None]
    return -float((share * (_hits(scores, target) - top - np.log(total))).sum())


def _hits(logs: Array, target: Ints) -> Array:
    return np.asarray(logs[np.arange(len(target)), target])


def _by_row(questions: Questions, weights: Array) -> Array:
    """The weight of each row; a row that tells nothing has the number after the last finding."""
    return np.asarray(np.append(weights, 0.0)[questions.finding])


def _by_finding(questions: Questions, values: Array) -> Array:
    """The sum of the rows of each finding."""
    number = len(questions.findings)
    found: Array = np.bincount(questions.finding, values, number + 1)[:number].astype(np.float64)
    return found
