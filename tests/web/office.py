"""An office with one job, and everybody who may come to it."""

from __future__ import annotations

from pathlib import Path

import httpx2 as httpx

from tests.web.site import Visitor, visitor

PASSWORD = "copper wire and paper"
KEY = "the-key-that-was-printed"
WHO = ("stranger", "trainee", "trainee given", "technician", "technician given", "owner", "lead")
"""A name in two words was given the job: to change it, or as a trainee to look at it."""


class Office:
    """A team's page with one job and everybody who may come to it."""

    def __init__(self, folder: Path) -> None:
        lead = visitor(folder, team=True, door_key=KEY)
        self.store = lead.store
        self.visitors = {"lead": lead}
        lead.post("/first", {"csrf": lead.token("/login"), "key": KEY, "name": "Lead", "password": PASSWORD})
        for who in WHO[1:-1]:
            role = who.partition(" ")[0].replace("owner", "technician")
            lead.post("/people", {"name": who, "role": role, "password": PASSWORD})
        for who in WHO[:-1]:
            self.visitors[who] = Visitor(self.store, team=True)
            if who != "stranger":
                assert self.log_in(who).status_code == 200
        self.job = self.visitors["owner"].bring("garden-cottage")
        for who in ("trainee given", "technician given"):
            may = "change" if who.startswith("technician") else "see"
            self.visitors["owner"].post(f"{self.job}/people", {"person": str(WHO.index(who) + 2), "may": may})

    def log_in(self, who: str, password: str = PASSWORD) -> httpx.Response:
        site = self.visitors[who]
        return site.post("/login", {"csrf": site.token("/login"), "name": who, "password": password})

    def close(self) -> None:
        for site in self.visitors.values():
            site.client.close()
        self.store.close()
