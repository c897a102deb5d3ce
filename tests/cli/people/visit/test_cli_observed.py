"""What is added beyond the least, and the lists a firm keeps: typed for real, and read back from what was
signed.
"""

from __future__ import annotations

import hashlib
from base64 import urlsafe_b64encode
from pathlib import Path

import pytest

from town import INDOOR, OPEN, OUTDOOR, Town, collect, last


def test_the_opening_says_question_license_kit_and_notice_without_telling_the_question(settled: Town) -> None:
    """If this fails, a well prepared visit is warned of, or the client's worry stands in the log for ever."""
    inspector = settled.person("inspector")
    inspector.run(
        *OPEN,
        "--question",
        "musty odor in the nursery",
        "--jurisdiction",
        "US-NY",
        "--license",
        "L-1",
        "--license-valid-to",
        "2027-06-30",
        "--no-remediator",
        "--cassettes",
        "5",
        "--indoor",
        "2",
        "--blanks",
        "1",
        "--notice-sent",
        "2026-11-28 09:00",
        "--visible-growth",
        "--growth-reason",
        "clearance",
        "--works-h-ago",
        "72",
        "--ventilation",
        "normal",
    )
    said = last(settled, "inspector")
    assert said["question_given"] is True
    assert "nursery" not in str(said)
    assert said["license"] == {"jurisdiction": "US-NY", "number": "L-1", "valid_to": "2027-06-30"}
    assert said["kit"] == {"cassettes": 5, "indoor": 2, "blanks": 1}
    assert (said["remediator"], said["visible_growth"], said["growth_reason"]) == (False, True, "clearance")
    assert said["notice_sent"] == "2026-11-28T09:00:00-05:00"
    assert said["preparation"]["works_h_ago"] == "72"


@pytest.mark.parametrize(
    ("words", "weather"),
    [
        ((), {}),
        (("--snow-cover", "--no-mowing"), {"snow_cover": True, "mowing": False}),
        (("--no-snow-cover", "--mowing"), {"snow_cover": False, "mowing": True}),
    ],
)
def test_that_no_grass_was_mown_is_signed_only_where_somebody_said_so(
    settled: Town, words: tuple[str, ...], weather: dict[str, bool]
) -> None:
    """A no that the inspector gave would read like a question that nobody asked, and the other way."""
    _, (sample,) = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    collect(settled, sample, (*OUTDOOR, *words))
    assert last(settled, "inspector")["weather"] == {"sky": "clear", "wind": "light"} | weather


@pytest.mark.parametrize("words", [("--license", "L-1"), ("--cassettes", "5"), ("--blanks", "1")])
def test_half_a_license_or_kit_is_asked_about(settled: Town, words: tuple[str, ...]) -> None:
    """If this fails, somebody signs a license that counts nowhere, or a kit planned for nothing."""
    settled.person("inspector").run(*OPEN, *words, code=2)
    assert settled.person("inspector").outbox() == []


def test_what_was_observed_at_a_cassette_is_signed_with_it(settled: Town, tmp_path: Path) -> None:
    """If this fails, an option is accepted on the screen and lost on the way into the signature."""
    picture = tmp_path / "place.JPG"
    picture.write_bytes(b"not really a picture")
    _, samples = settled.lot(4)
    settled.person("inspector").run(*OPEN)
    collect(settled, samples[0], INDOOR)
    collect(
        settled,
        samples[1],
        (
            *INDOOR,
            "--duplicate-of",
            samples[0],
            "--duplicate",
            "consecutive",
            "--temperature-c=-4.5",
            "--pressure-hpa",
            "839.9",
            "--flow-corrected",
            "--label-on",
            "body",
            "--label-prints",
            "2",
            "--label-reprinted",
            "damaged",
            "--photo",
            str(picture),
            "--gps-distance-m",
            "12",
            "--near",
            "fan",
            "--near-distance",
            "5 ft",
            "--dust",
            "heavy",
            "--short-run",
            "dust",
            "--aggressive",
            "--unit",
            "B",
            "--pump-stop",
            "battery",
        ),
    )
    said = last(settled, "inspector")
    told = {
        "duplicate_of": samples[0],
        "duplicate": "consecutive",
        "temperature_c": "-4.5",
        "pressure_hpa": "839.9",
        "flow_corrected": True,
        "label_on": "body",
        "label_prints": 2,
        "label_reprinted": "damaged",
        "gps_distance_m": "12",
        "near_m": "1.524",
        "dust": "heavy",
        "short_run": "dust",
        "aggressive": True,
        "unit": "B",
        "pump_stop": "battery",
    }
    assert {name: said[name] for name in told} == told  # 5 ft = 1.524 m exactly
    # Oracle: hashlib over the bytes of the file.
    digest = urlsafe_b64encode(hashlib.sha256(picture.read_bytes()).digest()).decode().rstrip("=")
    assert said["photo"] == {"sha-256": digest, "size": 20, "type": "image/jpeg"}
    collect(settled, samples[2], (*OUTDOOR, "--serves", "A", "--serves", "B"))
    assert last(settled, "inspector")["serves"] == ["A", "B"]


def test_a_file_that_is_no_picture_is_not_bound(settled: Town, tmp_path: Path) -> None:
    """If this fails, a digest of the wrong file stands where the place should be seen."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    for name, content in (("notes.txt", b"x"), ("empty.png", b"")):
        file = tmp_path / name
        file.write_bytes(content)
        assert name in settled.person("inspector").run(
            "collect", samples[0], *INDOOR, "--photo", str(file), code=2
        )


def test_a_run_longer_than_its_scans_is_refused_before_it_is_signed(settled: Town) -> None:
    """If this fails, five minutes of a pump that stopped after three are signed, and only then refused."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.clock.advance(minutes=5)
    times = ("--started", "2026-12-01 09:00", "--stopped", "2026-12-01 09:03:20")
    assert "200 s apart" in inspector.run("collect", samples[0], *INDOOR, *times, code=2)
    assert len(inspector.outbox()) == 1


def test_the_firm_s_lists_are_entered_by_whoever_may(settled: Town) -> None:
    """If this fails, a meter, a trained person or a state law cannot be entered, and the rules about them
    never speak.
    """
    kid = settled.person("inspector").answer("key", "show")["kid"]
    quality = settled.person("quality")
    quality.run(
        "equipment",
        "meter",
        "M-3",
        "--certified",
        "2026-06-15",
        "--calibrated-c",
        "20",
        "--calibrated-hpa",
        "1013.25",
    )
    assert last(settled, "quality") == {
        "kind": "meter",
        "id": "M-3",
        "certified": "2026-06-15",
        "calibrated_c": "20",
        "calibrated_hpa": "1013.25",
    }
    quality.run("train", kid)
    assert last(settled, "quality") == {"kid": kid, "on": "2026-12-01"}
    assert "Goes" not in quality.run("licensing", "US-NY", "US-TX")
    assert last(settled, "quality") == {"jurisdictions": ["US-NY", "US-TX"]}
    quality.run("licensing", "--nowhere")
    assert last(settled, "quality") == {"jurisdictions": []}
    for words in ((), ("US-NY", "--nowhere")):
        quality.run("licensing", *words, code=2)
    refused = settled.person("inspector").run("train", kid, code=1)
    assert "may not sign trained" in refused
    assert settled.person("inspector").outbox() == [], "no number is lost to it"


def test_a_meter_out_of_certificate_is_said_while_the_pump_is_still_there(settled: Town) -> None:
    """If this fails, the inspector learns at the desk that the whole day was read with a meter out of
    certificate.
    """
    settled.person("firm-root").run("equipment", "meter", "M-3", "--certified", "2025-01-10")
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    assert "PV-06" in collect(settled, samples[0], INDOOR)


def test_storage_and_a_mistyped_expiry_are_entered_by_the_media_keeper(settled: Town) -> None:
    """If this fails, a box entered with the wrong year can never be used again."""
    keeper = settled.person("keeper")
    keeper.run(
        "lot",
        "receive",
        "--maker-lot",
        "7-1",
        "--cassette",
        "slit",
        "--expiry",
        "2026-03",
        "--count",
        "5",
        "--nominal-flow",
        "15.0",
        "--coldest-c=-2",
        "--warmest-c",
        "31",
    )
    said = last(settled, "keeper")
    assert (said["coldest_c"], said["warmest_c"]) == ("-2", "31")
    lot = keeper.answer("lot", "show")["lots"][0]["lot"]
    assert "connection" in keeper.run(
        "lot", "expiry", lot, "2027-03", "--reason", "typing", "--offline", code=2
    )
    keeper.run("lot", "expiry", lot, "2027-03", "--reason", "typing")
    assert last(settled, "keeper") == {"old": "2026-03", "new": "2027-03", "reason": "typing"}
    assert keeper.answer("lot", "show", lot)["expiry"] == "2027-03"
    keeper.run("lot", "count", lot, "--remaining", "5", "--warmest-c", "24")
    assert last(settled, "keeper") == {"remaining": 5, "voided": 0, "warmest_c": "24"}


def test_a_pump_checked_once_is_typed_once(settled: Town) -> None:
    """The inspector types the morning's reading at every cassette, or makes one up for the evening."""
    _, samples = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    check = ("check-pump", "P-7", "--meter", "M-3", "--through-cassette")
    assert "Recorded: pump checked" in inspector.run(*check, "--flow", "15.0", "--when", "before")
    for sample, what in zip(samples, (INDOOR, INDOOR, OUTDOOR), strict=True):
        settled.clock.advance(minutes=10)
        unread = [word for word in what if word not in ("--flow-before", "--flow-after", "15.0", "14.9")]
        inspector.run("collect", sample, *unread, "--serial", f"K-{sample[-6:]}", "--timer-stop")
    form = inspector.answer("show")["forms"][0]["form"]
    told = inspector.answer("check", form, code=None)["findings"]
    assert [each["severity"] for each in told if each["rule"] == "PV-02"] == ["warn"]
    settled.clock.advance(minutes=10)
    inspector.run(*check, "--flow", "14.6", "--when", "after")
    told = inspector.answer("check", form, code=None)["findings"]
    assert not [each for each in told if each["rule"].startswith("PV-")]
    shown = inspector.answer("show", form)["samples"]
    assert {(each["mean_flow"], each["volume_l"]) for each in shown} == {("14.80", "74.00")}


def test_why_no_outdoor_control_is_possible_is_said_on_site(settled: Town) -> None:
    """Quality in the office would have to know what the sky did."""
    _, samples = settled.lot(2)
    inspector, quality = settled.person("inspector"), settled.person("quality")
    inspector.run(*OPEN)
    for sample in samples:
        collect(settled, sample, INDOOR)
    form = inspector.answer("show")["forms"][0]["form"]
    allow = ("except", "OC-01", form, "--reason", "outdoor_impossible")
    quality.run(*allow)
    found = {each["rule"]: each for each in quality.answer("check", form, code=1)["findings"]}
    assert found["OC-16"]["severity"] == "block"
    assert f"bailee rule-out-outdoor {form} --reason" in inspector.run("check", form, code=1)
    assert "Recorded: outdoor ruled out" in inspector.run("rule-out-outdoor", "--reason", "storm")
    settled.clock.advance(hours=1)
    quality.run(*allow)
    told = {each["rule"]: each["severity"] for each in quality.answer("check", form, code=None)["findings"]}
    assert "OC-16" not in told
    assert told["OC-01"] == told["OC-12"] == "warn"
