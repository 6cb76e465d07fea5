"""The catalogue as the page shows it, and a part chosen from it for a job."""

from __future__ import annotations

import html
import re

from callpath.job import read_job
from callpath.parts.catalogue import default_catalogue
from callpath.parts.describe import part_sources
from tests.web.site import Visitor, said


def test_every_part_has_a_page_that_tells_it_whole(site: Visitor) -> None:
    for name in default_catalogue().names:
        part = default_catalogue().part(name)
        told = said(site.get(f"/parts/{name}"))
        for letters, terminal in part.terminals.items():
            assert f"{letters} {', '.join(terminal.means)}" in told
        assert all(word in told for word in (*part.shown_elements, *part.functions, *part.settings, *part.calls))
        assert all(f"[{key}] {source.mark}:" in told for key, source in part_sources(part).items())


def test_the_catalogue_is_searched_without_script(site: Visitor) -> None:
    found = re.findall(r'class="card" href="/parts/([^"]+)"', site.get("/parts?search=zone+valve&role=accessory").text)
    assert "accessory/zone-valve" in found
    assert all(name.startswith("accessory/") for name in found)
    assert len(re.findall(r'class="card" href', site.get("/parts").text)) == len(default_catalogue().names)
    wrong = site.get("/parts/indoor/furnace-bored")
    assert wrong.status_code == 404
    assert "indoor/furnace-board" in said(wrong)


def test_a_part_is_added_with_its_settings(site: Visitor) -> None:
    """What is left as the catalogue has it is not written into the file."""
    job = site.bring("garden-cottage")
    page = site.get(f"{job}/add?part=indoor/air-handler").text
    fields = {html.unescape(name) for name in re.findall(r'name="(setting:[^"]+)"', page)}
    assert fields == {f"setting:{name}" for name in default_catalogue().part("indoor/air-handler").settings}
    given = {"part": "indoor/air-handler", "at": "attic", "setting:transformer-va": "75", "setting:fuse-amps": "3"}
    assert site.edit(job, "add-equipment", **given).status_code == 200
    device = read_job(site.file(job)).equipment["air"]
    assert (device.at, device.settings["transformer-va"]) == ("attic", 75)
    assert re.search(r"air: +\{part: indoor/air-handler, at: attic, settings: \{transformer-va: 75\}\}", site.file(job))
    wrong = site.edit(job, "add-equipment", **{**given, "setting:transformer-va": "lots"})
    assert wrong.status_code == 422
    assert "transformer-va must be a number" in said(wrong)
    assert "could be" in said(site.get(f"{job}/add?part=heat"))
