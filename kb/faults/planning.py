"""A sequence of checks, where to stop, and the minutes that it takes on average.

Every outcome of every check is followed, with the probability that the ranking's own rates give
it, until trying parts is worth more than another check. So the figures are true as far as the
ranking is: "by its own model". Needs NumPy, and is loaded only when a plan is asked for.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from itertools import count
from math import inf

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from kb.faults.bench import Bench, Made, Survey, hands_on, is_closed, survey
from kb.faults.costs import COVER_MINUTES
from kb.faults.experience import Experience
from kb.faults.next_checks import LEAST_TOLD
from kb.faults.planning_table import Array, Table, Worth, trying, weigh
from kb.faults.ranking import Ranking
from kb.faults.stopping import Parts, described
from kb.faults.trying import Tries, best_tries
from kb.notes.vocabulary import ACCESS
from kb.values import CheckOption, Plan, PlanStep, StopPoint

MOST_STATES, MOST_WORK = 100, 12_000
"""how many situations are followed on, and how many times causes; the likeliest first"""


class Situation(Struct, frozen=True, eq=False):
    """Where one may stand after some checks.

    `believed` are the probabilities as the ranking would give them then, `mass` those of each
    cause together with having come here, by the rates without weights; the rest is the last of
    each. `closed` says that the cover is on.
    """

    made: Made
    believed: Array
    mass: Array
    closed: bool

    @property
    def reach(self) -> float:
        """The probability of coming here."""
        return float(self.mass.sum())


class View(Struct, frozen=True):
    """What can be done in a situation, and what each offer is worth there."""

    now: Survey
    worth: Worth


Policy = Callable[[View], int | None]
"""which of the offers to take; None if none of them is any use"""


def recommended(view: View) -> int | None:
    """The check that saves most minutes; where none does by itself, the most bits per minute."""
    worth, offers = view.worth, view.now.offered
    good = [i for i, told in enumerate(worth.told) if told >= LEAST_TOLD]
    if not good:
        return None
    best = max(good, key=lambda i: worth.saves[i])
    if worth.saves[best] > 0.0:
        return best
    return max(good, key=lambda i: worth.told[i] / offers[i].minutes)


def _only_first(_: View) -> int | None:
    return None


def in_order(checks: Sequence[str]) -> Policy:
    """The next check of a fixed order."""

    def choose(view: View) -> int | None:
        offers = {offer.option.check: i for i, offer in enumerate(view.now.offered)}
        return next((offers[c] for c in checks if c in offers), None)

    return choose


class Walk:
    """The situations on the way, each worked out once for all policies."""

    def __init__(self, experience: Experience, ranking: Ranking, bench: Bench) -> None:
        self.bench = bench
        self.options = {option.check: option for option in bench.options}
        self.table = Table(experience, [(c.cause, c.probability) for c in ranking.causes], bench)
        self._surveys: dict[frozenset[tuple[str, str]], Survey] = {}
        self._views: dict[frozenset[tuple[str, str]], View] = {}

    def start(self) -> Situation:
        """Where one stands now."""
        closed = is_closed(self.options, {check for check, _ in self.bench.made})
        return Situation(tuple(self.bench.made), self.table.start, self.table.start, closed)

    def view(self, situation: Situation) -> View:
        """What can be done here."""
        key = frozenset(situation.made)
        if key not in self._views:
            now = self._survey(situation.made)
            worth = weigh(self.table, situation.believed, now.offered, situation.closed)
            self._views[key] = View(now, worth)
        return self._views[key]

    def _survey(self, made: Made) -> Survey:
        # What may be made depends on what was made, not on how it came out, but for what is first.
        key = frozenset((c, o if c in self.bench.first else "") for c, o in made)
        if key not in self._surveys:
            self._surveys[key] = survey(self.bench, made)
        return self._surveys[key]

    def could_pay(self, node: Node) -> bool:
        """Whether any check could, even if it named the cause for certain."""
        situation = node.situation
        offers = self.view(situation).now.offered
        if not offers:
            return False
        table, p = self.table, situation.mass
        cover = COVER_MINUTES * table.inside if situation.closed else 0.0
        named = np.minimum(table.minutes + cover, table.search)
        least = float(p[:-1] @ named) + float(p[-1]) * table.search
        return node.trying - least > situation.reach * min(hands_on(o.option) for o in offers)

    def step(self, situation: Situation, policy: Policy) -> tuple[CheckOption, float, bool] | None:
        """The check made next, how far its outcomes are known, and whether it must come first.

        What a check needs is made before it. None where no check is any use, and where one that
        must come first has alarmed: that is put right then.
        """
        view = self.view(situation)
        fresh = situation.made[len(self.bench.made) :]
        if any((check, outcome) in fresh for check, outcome in view.now.alarming.items()):
            return None
        if view.now.leading:
            return view.now.leading[0], 1.0, True
        chosen = policy(view)
        if chosen is None:
            return None
        option = view.now.offered[chosen].steps[0]
        if not self.table.rows[option.check]:
            return option, 1.0, False
        place = [offer.option.check for offer in view.now.offered].index(option.check)
        return option, float(view.worth.known[place]), False

    def time(self, situation: Situation, option: CheckOption) -> float:
        """The minutes that making it here takes."""
        return hands_on(option) + (COVER_MINUTES if self.opens(situation, option) else 0.0)

    def opens(self, situation: Situation, option: CheckOption) -> bool:
        """Whether the cover has to come off for it."""
        return situation.closed and option.access != ACCESS[0]

    def outcomes(self, situation: Situation, option: CheckOption) -> list[Situation]:
        """Where making this check may lead. A check of which no outcome is known leads on."""
        closed = situation.closed and not self.opens(situation, option)
        rows = self.table.rows[option.check]
        if not rows:
            # As if it had come out well: a plan for what then must be put right is another one.
            name = next(iter(option.clears or option.outcomes), "made")
            made = (*situation.made, (option.check, name))
            return [Situation(made, situation.believed, situation.mass, closed)]
        found = []
        for row in rows:
            believed = situation.believed * self.table.likelihoods[row]
            found.append(
                Situation(
                    made=(*situation.made, (option.check, self.table.outcomes[row])),
                    believed=believed / believed.sum(),
                    mass=situation.mass * self.table.rates[row],
                    closed=closed,
                )
            )
        return found

    def tries(self, situation: Situation) -> Tries:
        """The parts to try here."""
        table = self.table
        cover = COVER_MINUTES if situation.closed else 0.0
        p = situation.believed[:-1].tolist()
        return best_tries(p, table.minutes.tolist(), table.search, table.inside.tolist(), cover)

    def finish(self, situations: Sequence[Situation]) -> list[float]:
        """The minutes of trying parts in each, times the probability of coming there."""
        believed = np.stack([s.believed for s in situations])
        mass = np.stack([s.mass for s in situations])
        closed = np.array([s.closed for s in situations])
        return [float(minutes) for minutes in trying(self.table, believed, mass, closed)]


class Node(Struct):
    """A situation on the way of a policy, with the check it makes next and where that may lead.

    `going_on` is how long it takes on average from here by that check, `trying` by parts at once,
    `untold` by parts if the check was made and told nothing; all times the probability of coming
    here. `forced` says that the check must come first, whatever it is worth, `cut` that nobody
    looked whether one would be worth making.
    """

    situation: Situation
    trying: float
    option: CheckOption | None = None
    children: list[Node] = []
    known: float = 1.0
    forced: bool = False
    cut: bool = False
    untold: float = inf
    going_on: float = inf

    @property
    def stops(self) -> bool:
        """Whether trying parts is worth more here than another check."""
        return self.option is None or (not self.forced and self.trying <= self.going_on)

    @property
    def best(self) -> float:
        """The better of the two."""
        return self.trying if self.stops else self.going_on


def grow(walk: Walk, policy: Policy, start: Situation | None = None) -> Node:
    """All that a policy may lead to from here, the likeliest first, up to `MOST_STATES`.

    Where it stops is then settled from the ends backwards: a check is made where it, and what
    follows on it, takes less time on average than trying parts.
    """
    number = count()
    start = start or walk.start()
    root = Node(start, walk.finish([start])[0])
    waiting = [(-start.reach, next(number), root)]
    opened: list[Node] = []
    most = min(MOST_STATES, MOST_WORK // len(walk.table.start))
    while waiting and len(opened) < most:
        _, _, node = heapq.heappop(waiting)
        step = walk.step(node.situation, policy)
        if step is None or not (step[2] or walk.could_pay(node)):
            continue
        node.option, node.known, node.forced = step
        following = walk.outcomes(node.situation, node.option)
        untold = replace(node.situation, closed=following[0].closed)
        node.untold, *minutes = walk.finish([untold, *following])
        node.children = [Node(s, m) for s, m in zip(following, minutes, strict=True)]
        opened.append(node)
        for child in node.children:
            heapq.heappush(waiting, (-child.situation.reach, next(number), child))
    for _, _, node in waiting:
        node.cut = True
    for node in reversed(opened):
        _settle(walk, node)
    return root


def _settle(walk: Walk, node: Node) -> None:
    situation, option = node.situation, node.option
    assert option is not None, "only opened nodes are settled"
    later = sum(child.best for child in node.children)
    own = situation.reach * walk.time(situation, option)
    node.going_on = own + node.known * later + (1.0 - node.known) * node.untold


def expected_minutes(walk: Walk, node: Node) -> float:
    """The minutes that it takes from here, times the probability of coming here.

    Without holding back for what the book does not know, as the decisions do.
    """
    if node.stops or node.option is None:
        return node.trying
    own = node.situation.reach * walk.time(node.situation, node.option)
    return own + sum(expected_minutes(walk, child) for child in node.children)


def cut_off(node: Node) -> float:
    """How much of what may happen ends where nobody looked further."""
    if node.stops or node.option is None:
        return node.situation.reach if node.cut else 0.0
    return sum(cut_off(child) for child in node.children)


def plan(experience: Experience, ranking: Ranking, bench: Bench) -> Plan:
    """Plan the checks along their likeliest outcomes, to where trying parts is worth more.

    What must come first comes first, nothing above the allowed access is in it, and the cover is
    paid once: it goes by the same rules as `next_checks`. It stands beside the shop's usual order
    (`bench.usual`), followed by the same model and with the same stop rule.
    """
    walk = Walk(experience, ranking, bench)
    root = grow(walk, recommended)
    node, steps = root, list[PlanStep]()
    while not node.stops and node.option is not None:
        following = max(node.children, key=lambda child: child.situation.reach)
        steps.append(_step(walk, node, node.option, following.situation))
        node = following
    usual = grow(walk, in_order(bench.usual.checks)) if bench.usual else None
    return Plan(
        steps=tuple(steps),
        stop=_stop(walk, node),
        expected=expected_minutes(walk, root),
        trying=expected_minutes(walk, grow(walk, _only_first)),
        usual=bench.usual,
        usual_expected=expected_minutes(walk, usual) if usual else None,
        followed=1.0 - cut_off(root),
    )


def _step(walk: Walk, node: Node, option: CheckOption, following: Situation) -> PlanStep:
    situation = node.situation
    known = following.believed[:-1]
    leader = walk.table.causes[int(known.argmax())] if len(known) else None
    opens, rows = walk.opens(situation, option), walk.table.rows[option.check]
    return PlanStep(
        check=option.check,
        label=option.label,
        access=option.access,
        minutes=option.minutes + (COVER_MINUTES if opens else 0.0),
        wait=option.wait,
        first=node.forced,
        opens=opens,
        outcome=None if node.forced or not rows else following.made[-1][1],
        chance=1.0 if node.forced else following.reach / situation.reach,
        leads=leader,
        leads_label=leader,
        probability=float(known.max()) if leader else 0.0,
        hazards=option.hazards,
    )


def _stop(walk: Walk, node: Node) -> StopPoint:
    table = walk.table
    parts = Parts(
        causes=table.causes,
        p=tuple(node.situation.believed[:-1].tolist()),
        minutes=tuple(table.minutes.tolist()),
        inside=tuple(table.inside.tolist()),
        search=table.search,
    )
    return described(
        parts,
        walk.tries(node.situation),
        walk.bench,
        node.situation.closed,
        node.option.check if node.option else None,
        (node.trying - node.going_on) / node.situation.reach if node.option else 0.0,
    )
