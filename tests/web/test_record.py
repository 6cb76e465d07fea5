"""The record of the work: readings beside their bands, photos without a trace of their file, papers filled in."""

from __future__ import annotations

import random
import re
from io import BytesIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pypdf import PdfReader

from callpath.errors import CallpathError
from callpath.records.photo import encoded_anew
from tests.records.pictures import picture
from tests.web.site import Visitor, said
from tests.web.test_job import steps_of

VOLTS = {"phase": "as-left", "call": "cool", "kind": "volts", "red": "cond.Y", "black": "cond.C"}


def test_a_reading_stands_beside_what_to_expect(site: Visitor) -> None:
    """22.79 to 27.78 V is the band that the README's tested example gives for these two terminals."""
    job = site.bring("garden-cottage")
    assert "25.7 V 22.79 to 27.78 ✓ in band" in said(site.post(f"{job}/record", {**VOLTS, "amount": "25,7"}))
    assert "12 V 22.79 to 27.78 ✗ outside" in said(site.post(f"{job}/record", {**VOLTS, "amount": "12"}))


def test_every_kind_of_reading_is_written_down(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    ohms = {"phase": "as-found", "call": "off", "kind": "ohms", "red": "cond.Y", "black": "cond.C"}
    assert "10 Ω" in said(site.post(f"{job}/record", {**ohms, "lifted": "outside.red", "amount": "10"}))
    assert "✗ outside" in said(site.post(f"{job}/record", {**ohms, "lifted": "outside.red", "amount": "ol"}))
    amps = {"phase": "as-found", "call": "cool", "kind": "amps", "conductor": "outside.red", "amount": "0.3"}
    assert "cool: around outside.red me," in said(site.post(f"{job}/record", amps))
    seen = {"phase": "as-found", "call": "cool", "kind": "running", "function": "cond.compressor", "amount": "no"}
    assert re.search("cool: cond.compressor runs me, [^,]* no yes ✗ outside", said(site.post(f"{job}/record", seen)))


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"amount": "lots"}, "is no reading"),
        ({"amount": "-1"}, "a reading lies between 0 and 1,000 V"),
        ({"amount": "2640 V"}, "a reading lies between 0 and 1,000 V"),
        ({"amount": "26.4 A"}, "'26.4 A' is in A, and this reading is in V"),
        ({"amount": "26.4 W"}, "is no reading"),
        ({"amount": ""}, "the reading is missing"),
        ({"amount": "1e99 kV"}, "out of range"),
        ({"kind": "amps", "conductor": "outside.red", "amount": "500"}, "a reading lies between 0 and 400 A"),
        ({"kind": "ohms", "amount": "ten"}, "or OL for an open line"),
        ({"kind": "running", "function": "cond.compressor", "amount": "1"}, "say yes or no"),
        ({"amount": "nan"}, "is no reading"),
        ({"amount": "1e9"}, "out of range"),
        ({"amount": "OL"}, "is no reading"),
        ({"red": "cond.Z"}, "cond.Z"),
        ({"call": "dance"}, "dance"),
        ({"kind": "weight"}, "cannot be written down"),
        ({"phase": "as-dreamt"}, "there is no phase"),
        ({"kind": "running", "function": "cond.fan", "amount": "yes"}, "no function 'cond.fan'"),
        ({"kind": "amps", "conductor": "wall.mauve"}, "wall.mauve"),
    ],
)
def test_what_is_no_reading_is_told_and_kept_in_the_form(site: Visitor, changed: dict[str, str], told: str) -> None:
    job = site.bring("garden-cottage")
    answer = site.post(f"{job}/record", {**VOLTS, "amount": "25.7", "note": "by the door", **changed})
    assert answer.status_code == 422
    assert told in said(answer)
    assert 'value="by the door"' in answer.text
    assert "Nothing measured yet." in said(answer)


@pytest.mark.parametrize(
    ("kind", "amount", "shown"),
    [
        ("volts", "26.4 V", "26.4 V"),
        ("volts", "26,4v", "26.4 V"),
        ("low-z", "240 mV", "0.24 V"),
        ("amps", "0,5 A", "0.5 A"),
        ("amps", ".31 amps", "0.31 A"),
        ("ohms", "1.2 kΩ", "1200 Ω"),
        ("ohms", "2 MΩ", "2000000 Ω"),
        ("ohms", "10 ohm", "10 Ω"),
        ("ohms", "OL", "OL"),
        ("running", "Yes", "yes"),
        ("running", "n", "no"),
    ],
)
def test_a_reading_is_taken_as_people_write_it(site: Visitor, kind: str, amount: str, shown: str) -> None:
    job = site.bring("garden-cottage")
    spots = {"conductor": "outside.red", "function": "cond.compressor"}
    told = said(site.post(f"{job}/record", {**VOLTS, **spots, "kind": kind, "amount": amount}))
    assert f"UTC {shown} " in told


@pytest.mark.parametrize(
    ("sent", "shown"),
    [
        ({"kind": "ohms", "read": "OL", "amount": ""}, "OL"),
        ({"kind": "ohms", "amount": "1,2", "unit": "kΩ"}, "1200 Ω"),
        ({"kind": "ohms", "amount": "12 Ω", "unit": "MΩ"}, "12 Ω"),
        ({"kind": "volts", "amount": "26.4", "unit": "kΩ"}, "26.4 V"),
        ({"kind": "running", "read": "yes", "amount": ""}, "yes"),
        ({"kind": "running", "read": "no", "amount": "26"}, "no"),
    ],
)
def test_what_a_number_pad_cannot_type_is_tapped(site: Visitor, sent: dict[str, str], shown: str) -> None:
    job = site.bring("garden-cottage")
    spots = {"conductor": "outside.red", "function": "cond.compressor"}
    assert f"UTC {shown} " in said(site.post(f"{job}/record", {**VOLTS, **spots, **sent}))


def test_the_next_reading_goes_on_where_the_last_was(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    again = site.post(f"{job}/record", {**VOLTS, "phase": "as-found", "amount": "25.7"}).text
    for name, kept in (("phase", "as-found"), ("call", "cool"), ("kind", "volts"), ("black", "cond.C")):
        field = re.search(f'<select id="{name}".*?</select>', again, re.DOTALL)
        assert field is not None
        (chosen,) = re.findall("<option[^>]* selected>([^<]*)<", field.group())
        assert chosen.replace(" ", "-").startswith(kept), name
    assert re.search(
        r"0 V 0\.00 to 0\.\d\d ✓ in band", said(site.post(f"{job}/record", {**VOLTS, "call": "off", "amount": "0"}))
    )


ZONE = {"phase": "as-left", "call": "heat", "kind": "volts", "red": "valve-w.M1", "black": "valve-w.M2"}


def test_one_zone_is_recorded_alone(site: Visitor) -> None:
    """The west valve's motor has volts while its thermostat calls, and none while the east one calls alone."""
    job = site.bring("schoolhouse-zone-valves")
    assert re.search(
        r"0 V \d\d\.\d\d to \d\d\.\d\d ✗ outside", said(site.post(f"{job}/record", {**ZONE, "amount": "0"}))
    )
    alone = site.post(f"{job}/record", {**ZONE, "by": "east", "amount": "0"})
    assert re.search(r"heat by east: valve-w.M1 to valve-w.M2 .* 0 V 0\.00 to 0\.\d\d ✓ in band", said(alone))
    # Who calls stays from one reading to the next, as the call does.
    assert re.search(r'name="by" value="east" checked', alone.text)
    assert not re.search(r'name="by" value="west" checked', alone.text)
    watched = {"phase": "as-left", "call": "heat", "kind": "running", "function": "valve-w.open", "read": "no"}
    told = said(site.post(f"{job}/record", {**watched, "by": "east"}))
    assert re.search(r"heat by east: valve-w.open runs me, [^,]* no no ✓ in band", told)
    words = _words(site.get(f"{job}/papers?kind=pdf&phase=as-left").content)
    plain, _, rest = words.partition("Call: heat by east")
    assert re.search(r"valve-w\.M1 to valve-w\.M2 \d\d\.\d V \d\d\.\d to \d\d\.\d V 0\.0 V ✗ outside", plain)
    assert re.search(r"valve-w\.M1 to valve-w\.M2 0\.0 V 0\.0 to 0\.\d V 0\.0 V", rest)
    assert "Must run:  boiler.circulator  boiler.heat  valve-e.open" in rest.replace("\n", " ")
    assert "valve-w.open" not in rest.partition("Call:")[0]


def test_all_who_can_are_nobody_in_particular(site: Visitor) -> None:
    job = site.bring("schoolhouse-zone-valves")
    all_ = site.post(f"{job}/record", {**ZONE, "by": ["west", "east"], "amount": "24"})
    assert "heat: valve-w.M1 to valve-w.M2" in said(all_)
    off = site.post(f"{job}/record", {**ZONE, "call": "off", "by": "west", "amount": "0"})
    assert "off: valve-w.M1 to valve-w.M2" in said(off)
    for by, told in (("north", "no thermostat 'north'"), ("boiler", "no thermostat 'boiler'")):
        answer = site.post(f"{job}/record", {**ZONE, "by": ["east", by], "amount": "24"})
        assert answer.status_code == 422
        assert told in said(answer)
        assert re.search(r'name="by" value="east" checked', answer.text)


def test_who_called_is_kept_where_a_later_version_has_them_not(site: Visitor) -> None:
    job = site.bring("schoolhouse-zone-valves")
    site.post(f"{job}/record", {**ZONE, "by": "east", "amount": "0"})
    motor = {"call": "heat", "kind": "ohms", "red": "valve-e.M1", "black": "valve-e.M2", "lifted": "to-east.white"}
    site.post(f"{job}/record", {"phase": "as-left", **motor, "by": "east", "read": "OL"})
    site.edit(job, "text", text=site.file(job).replace("east:", "dawn:").replace("east.", "dawn."))
    assert "whose points this one has not" in said(site.get(f"{job}/record"))
    words = _words(site.get(f"{job}/papers?kind=pdf&phase=as-left").content)
    assert "not compared: 0 V at valve-w.M1 to valve-w.M2, east calling" in words
    assert "not compared: OL at valve-e.M1 to valve-e.M2, to-east.white lifted, east calling" in words.replace(
        "\n", " "
    )


def test_a_job_with_one_thermostat_asks_nobody_who_calls(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    assert 'name="by"' not in site.get(f"{job}/record").text


def test_what_is_wrong_is_struck_out_and_stays(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    site.post(f"{job}/record", {**VOLTS, "amount": "12"})
    assert "struck out" in said(site.post(f"{job}/record/strike", {"number": "1"}))
    assert "12 V" in said(site.get(f"{job}/record"))
    assert "✗ outside" in said(site.post(f"{job}/record/strike", {"number": "1"}))
    other = site.bring("old-mill-chassis-return")
    assert site.post(f"{other}/record/strike", {"number": "1"}).status_code == 404


def test_the_papers_hold_the_readings_of_their_phase(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    site.post(f"{job}/record", {**VOLTS, "amount": "25.3"})
    left, found = (site.get(f"{job}/papers?kind=pdf&paper=a4&phase={phase}") for phase in ("as-left", "as-found"))
    assert left.headers["content-type"] == "application/pdf"
    assert ["25.3" in _words(answer.content) for answer in (left, found)] == [True, False]
    assert "<svg" in site.get(f"{job}/papers?kind=svg").text
    sheet = site.get(f"{job}/papers?kind=html")
    assert "Field sheet" in said(sheet)
    # What runs script of its own is handed out as a file, never shown as a page of ours.
    assert sheet.headers["content-disposition"].startswith("attachment")
    assert site.get(f"{job}/papers?kind=docx").status_code == 422


def test_the_papers_of_a_phase_show_its_wiring_with_its_readings(site: Visitor) -> None:
    """As found the green conductor sits on C and the fuse opens, so that nothing has volts; as left it sits on G."""
    job = site.bring("garden-cottage-green-on-common")
    rest = {**VOLTS, "call": "off", "red": "board.R", "black": "board.C"}
    site.post(f"{job}/record", {**rest, "phase": "as-found", "amount": "26.6"})
    site.edit(job, "land-end", end="wall.green@2", spot="board.G")
    site.post(f"{job}/record", {**VOLTS, "amount": "25.3"})
    shown = said(site.get(f"{job}/record"))
    # The last one stands beside the form once more.
    assert shown.count("✓ in band") == 3
    assert "Version 1, fixed by me" in shown
    assert "The version that counts, now 2" in shown
    found, left = (_words(site.get(f"{job}/papers?phase={phase}").content) for phase in ("as-found", "as-left"))
    # Each in its own column: points, expected, band, as found, as left.
    assert "As found: Garden cottage, the green conductor on the board's C" in found
    assert "board.R to board.C 27.0 V 24.4 to 28.7 V 26.6 V" in found
    assert "board.fuse opens" in found
    assert "25.3" not in found
    assert "As left: Garden cottage" in left
    assert "cond.Y to cond.C 25.7 V 22.8 to 27.8 V 25.3 V" in left
    assert "26.6" not in left
    assert "board.fuse opens" not in left
    drawn = [site.get(f"{job}/papers?kind=svg&phase={phase}").text for phase in ("as-found", "as-left")]
    assert ['data-ends="stat.G board.C"' in svg for svg in drawn] == [True, False]
    taken = site.get(f"{job}/papers?kind=html&phase=as-found")
    assert "-as-found.html" in taken.headers["content-disposition"]


def test_the_papers_say_how_a_reading_was_taken(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    site.post(f"{job}/record", {**VOLTS, "kind": "low-z", "amount": "25.3"})
    ohms = {**VOLTS, "call": "off", "kind": "ohms", "lifted": "outside.red"}
    for amount in ("10.2", "OL"):
        site.post(f"{job}/record", {**ohms, "amount": amount})
    words = _words(site.get(f"{job}/papers?phase=as-left").content)
    assert "cond.Y to cond.C, low impedance 25.7 V 22.8 to 27.8 V 25.3 V" in words
    assert re.search(r"cond.Y to cond.C, outside.red lifted 10\.0 Ω [\d.]+ to [\d.]+ Ω 10\.2 Ω", words)
    assert re.search(r"cond.Y to cond.C, outside.red lifted 10\.0 Ω [\d.]+ to [\d.]+ Ω OL ✗ outside", words)


def test_who_says_which_version_is_as_found_is_kept(site: Visitor) -> None:
    job = site.bring("garden-cottage-green-on-common")
    site.edit(job, "land-end", end="wall.green@2", spot="board.G")
    site.post(f"{job}/record", {**VOLTS, "phase": "as-found", "amount": "25.3"})
    assert "✗ outside" in said(site.get(f"{job}/record"))
    told = said(site.post(f"{job}/phase", {"phase": "as-found", "version": "2"}))
    assert "Version 2, fixed by me" in told
    assert "✓ in band" in told
    assert "taken on version 1, to be expected on 2" in told
    back = said(site.post(f"{job}/phase", {"phase": "as-found", "version": "head", "then": "versions"}))
    assert "Every version" in back
    for wrong in ({"phase": "as-dreamt", "version": "1"}, {"phase": "as-left", "version": "9"}, {"phase": "as-left"}):
        assert site.post(f"{job}/phase", wrong).status_code in (404, 422)


def copied(site: Visitor, job: str) -> str:
    """Return a job of which nobody has said how it was found."""
    return site.post(f"{job}/copy").url.path


def as_found(site: Visitor, job: str) -> str:
    told = re.search("As found (.*?) It is another", said(site.get(f"{job}/record")))
    assert told is not None
    return told.group(1)


def test_a_repair_sets_out_from_what_was_found(site: Visitor) -> None:
    job = copied(site, site.bring("garden-cottage-green-on-common"))
    assert as_found(site, job).startswith("The version that counts, now 1")
    site.edit(job, "steps", step=steps_of(site.get(f"{job}/propose?how=mend").text))
    assert as_found(site, job).startswith("Version 1, fixed by me")
    assert "25.3 V" in said(site.post(f"{job}/record", {**VOLTS, "phase": "as-found", "amount": "25.3"}))
    assert as_found(site, job).startswith("Version 1, fixed by me")


def test_landing_what_lies_there_is_no_repair(site: Visitor) -> None:
    job = copied(site, site.bring("garden-cottage-green-on-common"))
    site.edit(job, "text", text=re.sub("(?m)^  (wall|outside)[.].*\n", "", site.file(job)).replace("landings:\n", ""))
    site.edit(job, "steps", step=steps_of(site.get(f"{job}/propose").text))
    assert "wall.red" in site.file(job).partition("landings")[2]
    assert as_found(site, job).startswith("The version that counts, now 3")


@pytest.mark.parametrize("phase", ["as-found", "as-left"])
def test_a_photo_as_found_tells_which_version_is(site: Visitor, phase: str) -> None:
    job = copied(site, site.bring("garden-cottage-green-on-common"))
    site.post(f"{job}/photos", {"phase": phase}, files={"photo": ("a.png", picture("PNG"))})
    fixed = "Version 1, fixed by me" if phase == "as-found" else "The version that counts, now 2"
    site.edit(job, "land-end", end="wall.green@2", spot="board.G")
    assert as_found(site, job).startswith(fixed)


def test_what_the_phases_version_does_not_have_keeps_its_own_band(site: Visitor) -> None:
    job = site.bring("garden-cottage")
    site.post(f"{job}/record", {**VOLTS, "amount": "25.3"})
    site.edit(job, "text", text=site.file(job).replace("cond:", "unit:").replace("cond.", "unit."))
    told = said(site.get(f"{job}/record"))
    assert "22.79 to 27.78 ✓ in band" in told
    assert "on version 1, whose points this one has not" in told
    assert "Also read, and not compared: 25.3 V at cond.Y to cond.C" in _words(
        site.get(f"{job}/papers?phase=as-left").content
    )


def test_a_job_made_here_is_as_found_where_it_is_first_measured_so(site: Visitor) -> None:
    fields = {"thermostat": "thermostat/single-supply", "indoor": "indoor/furnace-board", "wall": "18/5"}
    job = site.post("/new", fields).url.path
    site.edit(job, "add-splice", at="hall")
    reading = {**VOLTS, "phase": "as-found", "red": "stat.R", "black": "stat.Y", "amount": "0"}
    site.post(f"{job}/record", reading)
    site.edit(job, "add-splice", at="hall")
    assert "Version 2, fixed by me" in said(site.get(f"{job}/record"))


def test_as_found_is_compared_with_as_left(site: Visitor) -> None:
    job = site.bring("garden-cottage-green-on-common")
    site.edit(job, "land-end", end="wall.green@2", spot="board.G")
    page = site.get(f"{job}/versions?older=as-found&newer=as-left")
    assert "From version 1, as found, to version 2, as left" in said(page)
    assert "✗ 3 to mend → ✓ Clean" in said(page)
    assert "at cellar wall.green: take it off board.C and land it on board.G" in said(page)
    drawn = site.get(f"{job}/compared?older=1&newer=2")
    assert drawn.headers["content-type"] == "image/svg+xml"
    assert 'data-line="wall.green (was)"' in drawn.text
    assert site.get(f"{job}/versions?older=as-dreamt&newer=1").status_code == 422
    assert site.get(f"{job}/versions?older=1&newer=9").status_code == 404


def _words(raw: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(raw)).pages)


def test_a_photo_keeps_nothing_of_its_file(site: Visitor) -> None:
    """The place where it was taken, and whatever else was in the file, is gone; what it shows is upright."""
    exif = Image.Exif()
    exif[0x0112] = 6  # lies on its side
    exif[0x010F] = "a secret maker"
    raw = picture("JPEG", exif=exif.tobytes()) + b"<script>alert(1)</script>"
    job = site.bring("garden-cottage")
    page = site.post(
        f"{job}/photos", {"phase": "as-found", "caption": "The board <b>"}, files={"photo": ("a.jpg", raw)}
    )
    assert "As found The board <b> me," in said(page)
    kept = site.get(f"{job}/photos/1")
    assert kept.headers["content-type"] == "image/jpeg"
    assert b"secret" not in kept.content
    assert b"script" not in kept.content
    assert Image.open(BytesIO(kept.content)).size == (40, 60)
    other = site.bring("old-mill-chassis-return")
    assert site.get(f"{other}/photos/1").status_code == 404


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_pictures_become_jpeg(kind: str) -> None:
    made = encoded_anew(picture(kind, (5000, 2500)))
    assert Image.open(BytesIO(made.jpeg)).format == "JPEG"
    assert (made.width, made.height) == (2048, 1024)


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"GIF89a\x01\x00\x01\x00",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        picture("GIF"),
        picture("BMP"),
        picture("PNG")[:-30],
        picture("JPEG")[:200],
        # A head that claims 100 000 by 100 000 pixels, and nothing behind it.
        picture("PNG").replace((60).to_bytes(4) + (40).to_bytes(4), (100_000).to_bytes(4) * 2),
    ],
)
def test_what_is_no_sound_picture_is_told(raw: bytes) -> None:
    with pytest.raises(CallpathError):
        encoded_anew(raw)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), kind=st.sampled_from(["PNG", "JPEG", "WEBP"]))
def test_a_damaged_picture_is_read_or_told(seed: int, kind: str) -> None:
    raw, random_ = bytearray(picture(kind)), random.Random(seed)
    for _ in range(random_.randrange(1, 20)):
        raw[random_.randrange(len(raw))] = random_.randrange(256)
    try:
        made = encoded_anew(bytes(raw))
    except CallpathError:
        return
    assert Image.open(BytesIO(made.jpeg)).size == (made.width, made.height)
