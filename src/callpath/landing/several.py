"""The best landing for several thermostats: on the one panel that they share, one after the other, or all at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from callpath.job.model import Job, Landing
from callpath.landing.best import Best
from callpath.landing.landed import Landed
from callpath.landing.logic import Logic
from callpath.landing.panel import panelled, shared_panel
from callpath.landing.preference import by_preference
from callpath.landing.search import Candidate
from callpath.landing.turns import in_turn
from callpath.landing.why import shortage_of

__all__ = ["best_of_several"]

_MOST_TERMINALS_OF_SEVERAL = 24
_FEW_PLANS = (200, 400)


def best_of_several(found: Best, land_part: Callable[[Job], Job]) -> Landed:
    """Return the best landing for several thermostats: of all where that can be searched, else one after the other.

    Parameters
    ----------
    land_part : callable
        Lands a job that is a part of this one.
    """
    shared = _on_panel(found, land_part)
    if shared is not None:
        return shared
    turns = _in_turn(found, land_part)
    small = len(found.logic.terminals) <= _MOST_TERMINALS_OF_SEVERAL
    if turns is not None and turns.proof.verdict == "clean" and not turns.unserved and not small:
        return turns
    found.exhausted = True
    if not small:
        found.demands.most_plans = _FEW_PLANS
    whole = found.best()
    return whole if turns is None or whole.optimal else max(whole, turns, key=_goodness)


def _goodness(found: Landed) -> tuple[int, int]:
    return len(found.serves), -sum(finding.severity == "weak" for finding in found.proof.findings)


def _on_panel(best: Best, land_part: Callable[[Job], Job]) -> Landed | None:
    """Return the job landed with all thermostats on the one panel that it has; None where nothing is served so."""
    panel = shared_panel(best.fixed)
    if panel is None:
        return None
    plan_for = panelled(best.demands, panel, best.wanted, land_part)
    for serves in filter(None, by_preference(best.wanted, asked=best.given.serves is not None)):
        found = plan_for(serves)
        if found is None:
            continue
        steps = [(best.demands.level(found.plan, found.runs), found.plan)]
        carried = best.serving(serves, partial(best.search.carried, steps))
        if carried is not None:
            best.exhausted = False

            def why(call: str, serves: tuple[str, ...] = serves) -> str:
                more = plan_for((*serves, call))
                return shortage_of(best.search, serves, call, None if more is None else more.plan)

            return best.landed(serves, found.switches, *carried, why)
    return None


def _in_turn(best: Best, land_part: Callable[[Job], Job]) -> Landed | None:
    """Return the job landed one thermostat after the other; None where the proof does not let it through."""
    job = in_turn(best.fixed, best.wanted, land_part)
    proof = best.prove(job)
    dead = {call for finding in proof.findings if finding.code == "dead-call" for call in finding.calls}
    serves = tuple(call for call in best.wanted if call not in dead)
    if not best.accepts(proof, serves):
        return None
    logic = best.logic
    plan = Logic(job).wired
    net_of = {name: tuple(net) for net in logic.nets(plan) for i in net for name in (logic.terminals[i],)}
    landings = {name: ends for name, ends in job.landings.items() if ends != best.fixed.landings[name]}
    purpose = {name: _net(job, ends, net_of) for name, ends in landings.items()}
    runs = sum(len(set(proof.calls[call].running) & set(proof.calls[call].needed)) for call in serves)
    jumpers = tuple(pair for pair in job.jumpers if pair not in best.fixed.jumpers)
    splices = {name: at for name, at in job.splices.items() if name not in best.fixed.splices}
    joints = len(landings) + len(jumpers)
    score = (best.weak(proof), -runs, logic.misfits(plan), joints, 0, 0, len(splices) + len(jumpers), 0, 0)
    best.exhausted = False
    return best.landed(serves, (), Candidate(score, landings, splices, jumpers, purpose), proof)


def _net(job: Job, ends: Landing, net_of: Mapping[str, tuple[int, ...]]) -> tuple[int, ...]:
    """Return the net that a conductor carries, seen from a terminal that it or its splice comes to."""
    seen: set[str] = set()
    todo = [end for end in ends if end]
    while todo:
        end = todo.pop()
        if end in net_of:
            return net_of[end]
        seen.add(end)
        todo += [o for pair in job.landings.values() if end in pair for o in pair if o and o not in seen]
    return ()
