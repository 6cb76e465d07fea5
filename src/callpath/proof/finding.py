"""What a proof finds: findings are data; the command line, the page and the papers render them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Any

__all__ = ["CODES", "Finding", "Severity", "merged", "one_by_cause", "ranked"]

Severity = str
_ORDER = ("danger", "fault", "weak", "note")

CODES: dict[str, tuple[str, str]] = {
    "short": ("danger", "a source feeds less than its smallest safe impedance: a fuse opens, or with none it burns"),
    "sources-tied": ("danger or weak", "two sources are joined; danger where one drives current through the other"),
    "over-voltage": ("danger", "a load or input sees more than 110 % of its rating"),
    "wrong-class": ("danger", "a terminal that is not 24 V on/off is joined to the circuit"),
    "letter-trap": (
        "danger or weak",
        "a conductor joins equal letters that mean different things; danger where it shorts a source in some call",
    ),
    "dead-call": ("fault", "a call that the job serves does not run a function that it needs"),
    "unwanted-run": ("fault", "a function runs in a call that must not run it"),
    "unpowered-thermostat": ("fault", "a thermostat needs a supply that it does not have"),
    "no-return": ("fault", "a load that is fed has no way back to the source that feeds it"),
    "ends-disagree": (
        "fault",
        "a conductor joins terminals of different meaning between thermostat and indoor equipment",
    ),
    "weak-pull-in": ("weak", "at inrush a coil sees less than its pull-in voltage"),
    "low-hold": ("weak", "a load sees less than 85 % of its rating"),
    "over-va": ("weak", "a source carries more than its nameplate"),
    "fuse-size": ("weak", "a fuse too large to protect its source, or beyond the Class 2 limit for it"),
    "hot-on-metal": (
        "weak",
        "a source's hot side is on metal: one link from its common to metal would be a dead short",
    ),
    "chatter": ("weak", "no steady state: something drops out what feeds it"),
    "idle-safety": ("weak", "a safety that is wired and does not stop what it is there to stop when it opens"),
    "idle-control": ("weak", "a control switch that is wired and changes nothing, open or closed"),
    "crowded-terminal": ("weak", "more conductors on a terminal than it takes"),
    "nothing-served": ("note", "no call is served, and none runs anything: nothing is wrong because nothing works"),
    "no-fit": ("note", "a thermostat works in another way than all that it could call: line voltage, 24 V, millivolts"),
    "off-colour": ("note", "a conductor serves a purpose that custom gives another colour"),
    "spare": ("note", "a conductor landed nowhere"),
    "half-landed": ("note", "a conductor landed at one end only; tells when its open end is live"),
    "left-out": ("note", "equipment that nothing is landed on: the circuit runs without it"),
    "relies-on-chassis": ("note", "the way back runs through metal"),
    "anticipator-off": ("note", "a heat anticipator is set to another current than its circuit carries"),
    "relies-on-fan-lead": ("note", "in cooling the blower runs only because G is wired"),
}
"""Every finding code with its severity and meaning."""


@dataclass(frozen=True)
class Finding:
    """One cause and what it does.

    ``where`` names terminals, conductors, elements or functions; ``path`` is the way the current takes, end by end;
    ``calls`` are the calls in which it shows; ``leads`` are the conductors and jumpers of which any by itself brings
    it about, the likeliest first, where that is known.
    """

    code: str
    severity: Severity
    calls: tuple[str, ...]
    where: tuple[str, ...]
    path: tuple[str, ...]
    message: str
    remedy: str
    leads: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the finding in the contract's form."""
        return {
            "code": self.code,
            "severity": self.severity,
            "calls": list(self.calls),
            "where": list(self.where),
            "path": list(self.path),
            "message": self.message,
            "remedy": self.remedy,
        }


def merged(findings: list[Finding]) -> list[Finding]:
    """Join findings that differ only in the calls they show in."""
    kept: dict[tuple[Any, ...], Finding] = {}
    for finding in findings:
        key = (finding.code, finding.severity, finding.where, finding.path, finding.message)
        if key in kept:
            calls = (*kept[key].calls, *(call for call in finding.calls if call not in kept[key].calls))
            kept[key] = replace(kept[key], calls=calls)
        else:
            kept[key] = finding
    return list(kept.values())


def one_by_cause(findings: list[Finding]) -> list[Finding]:
    """Leave out what another finding tells as well: the one that stays names the cause.

    Equipment that nothing is landed on is not told of beside a call that fails without it. Two sources that meet at loads of
    which it is told that one feeds them and has no way back are told with those loads. Loads that hang on one lead whose ends
    disagree are told with that lead.
    """
    hanging = {name for finding in findings if finding.code == "no-return" for name in finding.where}
    failing = {name.partition(".")[0] for finding in findings if finding.severity == "fault" for name in finding.where}
    apart = [finding for finding in findings if not (_meets_at(finding, hanging) or _left_out(finding, failing))]
    kept: list[Finding] = [finding for finding in apart if finding.code != "no-return"]
    for finding in apart:
        if finding.code == "no-return":
            leads = set(finding.leads)
            wrong = [i for i, other in enumerate(kept) if other.code == "ends-disagree" and leads & set(other.path)]
            if wrong:
                # Of several terminals that one lead comes to wrongly it is the one on the way to the load.
                at = min(wrong, key=lambda i: (kept[i].where[-1] not in finding.path, i))
                where = tuple(dict.fromkeys((*kept[at].where, *finding.where)))
                kept[at] = replace(kept[at], where=where, message=f"{kept[at].message}; {finding.message}")
            else:
                kept.append(finding)
    return kept


def _meets_at(finding: Finding, loads: Collection[str]) -> bool:
    """Tell whether a finding says no more than that two sources meet at some of these loads."""
    at = set(finding.where[2:])
    return finding.code == "sources-tied" and finding.severity == "weak" and bool(at) and at <= set(loads)


def _left_out(finding: Finding, failing: Collection[str]) -> bool:
    """Tell whether a finding says no more than that nothing is landed on something that a fault is told of."""
    return finding.code == "left-out" and finding.where[0] in failing


def ranked(findings: list[Finding]) -> list[Finding]:
    """Return findings, the worst first, then by code and place, the same way every time."""
    codes = list(CODES)
    return sorted(findings, key=lambda f: (_ORDER.index(f.severity), codes.index(f.code), f.where, f.path))
