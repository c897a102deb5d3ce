"""What the inspector takes from surfaces: typed, asked for, and told again everywhere."""

from __future__ import annotations

from terminal import Terminal, served
from town import INDOOR, OPEN, Town, collect, flat, last, told_everywhere

TAPE = (
    *("--medium", "tape", "--room", "kitchen", "--point", "P9", "--area", "complaint"),
    *("--material", "drywall", "--surface", "growth", "--area-cm2", "4", "--moisture-pct", "18"),
    *("--place", "under the sink", "--quantified", "--label-on", "body"),
)


def test_a_tape_stands_on_every_paper_with_what_it_was_lifted_from(settled: Town) -> None:
    """The laboratory is sent a tape, and no paper says of which wall, or how much of it."""
    _, (first, third) = settled.lot(2)
    _, (second,) = settled.lot(1, cassette="tape")
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, first, INDOOR)
    said = inspector.run("collect-surface", second, *TAPE)
    assert said.index("Samples (times") < said.index("Recorded: surface collected")
    assert "outdoor control" not in said
    assert "Recorded: collected" in collect(settled, third, INDOOR)  # the tape beside it has no run
    form = inspector.answer("show")["forms"][0]["form"]
    told = next(each for each in inspector.answer("show", form)["samples"] if each["sample"] == second)
    assert {name: told[name] for name in ("kind", "medium", "material", "surface", "area_cm2", "run_s")} == {
        "kind": None, "medium": "tape", "material": "drywall", "surface": "growth", "area_cm2": "4",
        "run_s": None,
    }  # fmt: skip
    for where, shown in told_everywhere(settled, form, second).items():
        for word in ("tape lift", "drywall, growth", "4 cm²", "under the sink"):
            assert word in shown, (where, word, shown)


def test_what_is_left_out_is_asked_for_after_what_to_be_careful_of(settled: Town) -> None:
    """Who does not know the options leaves the material out, and cuts into a live wire besides."""
    _, (sample,) = settled.lot(1, cassette="swab")
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "collect-surface", sample, "--medium", "swab") as screen:
        screen.sees("Local codes")
        screen.sees("asbestos or lead")
        for asked, text in (
            ("Room", "kitchen"),
            ("Point on the sketch", ""),
            ("Area", "1"),
            ("Material", "wood"),
            ("surface", "growth"),
            ("Area lifted", "25"),
            ("swab", "sterile water"),
            ("count or mass", "y"),
            ("grown", "n"),
        ):
            screen.sees(asked)
            screen.sees(": ")
            screen.types(f"{text}\n")
        screen.sees("Sign: surface collected?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(settled)
    told = {
        name: said.get(name) for name in ("medium", "room", "material", "area_cm2", "wetted", "quantified")
    }
    assert told == {
        "medium": "swab", "room": "kitchen", "material": "wood", "area_cm2": "25", "wetted": "sterile_water",
        "quantified": True,
    }  # fmt: skip
    assert "culture" not in said


def test_what_will_stop_the_envelope_is_told_before_it_is_signed(settled: Town) -> None:
    """Without material and room the swab is stopped, and the house is far away by then."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    data = {"sample": sample, "medium": "swab", "at": settled.clock.now.isoformat()}
    session = inspector.session().of("inspector", as_json=False)
    try:
        told = session.service.post("/readiness", {"act": "surface_collected", "data": data, "form": form})
    finally:
        session.close()
    assert "SL-14" in {each["rule"] for each in told["findings"] if each["severity"] == "block"}


CAVITY = (
    *("--kind", "indoor", "--room", "wall_cavity", "--space-reason", "source_there", "--opening", "drilled"),
    *("--tube", "new", "--tube-m", "0.6 m", "--tube-mm", "6", "--purge", "10 s", "--side", "exterior"),
    *("--run", "20 s", "--planned", "20 s", "--pump", "P-1", "--meter", "M-1", "--covers"),
    *("--flow-before", "15.0", "--flow-after", "15.0", "--serial", "K-9"),
)


def test_air_of_a_cavity_is_printed_as_no_air_of_a_room(settled: Town) -> None:
    """Twenty seconds out of a wall are read as the air that people breathe in the room."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.clock.advance(minutes=10)
    assert "Volume 5.00 L" in inspector.run("collect", sample, *CAVITY)
    form = inspector.answer("show")["forms"][0]["form"]
    (told,) = inspector.answer("show", form)["samples"]
    assert (told["kind"], told["outdoor"], told["volume_l"]) == ("cavity", None, "5.00")
    for where, shown in told_everywhere(settled, form, sample).items():
        assert "cavity, not room air" in shown, where


def test_before_a_wall_is_opened_the_terminal_shows_what_to_be_careful_of(settled: Town) -> None:
    """Somebody drills into a wire, because the list was read an hour before, in the car."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "collect", sample) as screen:
        screen.sees("point on the sketch")
        screen.sees(": ")
        screen.types("wall cavity\n")
        screen.sees("Before a wall is opened")
        screen.sees("Local codes")
        for asked, text in (
            ("Area", "1"),
            ("Why in an unconditioned space", "2"),
            ("Serial number", ""),
            ("Pump number", "P-1"),
            ("Flow meter number", "M-1"),
            ("get into the cavity", "drilled"),
            ("tube", "new"),
            ("Flow before", "15.0"),
            ("How long it ran", "20 s"),
            ("Flow after", "15.0"),
            ("covers", "y"),
        ):
            screen.sees(asked)
            screen.sees(": ")
            screen.types(f"{text}\n")
        screen.sees("Sign: collected?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["cavity"] == {"opening": "drilled", "tube": "new"}


def test_a_box_of_tapes_gives_numbers_as_a_box_of_cassettes_does(settled: Town) -> None:
    """A tape bears the label of a cassette that then counts as lost, for nothing else has numbers."""
    keeper, inspector = settled.person("keeper"), settled.person("inspector")
    box = ("--maker-lot", "T-9", "--cassette", "tape", "--expiry", "2028-03", "--count", "5", "--issue", "1")
    kept = keeper.answer("lot", "receive", *box)
    lot = kept[0]["chain"].removeprefix("lot/")
    (sample,) = keeper.answer("lot", "show", lot)["issued"]
    assert "cassette tape" in flat(keeper.run("lot", "show", lot))
    inspector.run(*OPEN)
    inspector.run("collect-surface", sample, *TAPE)
    assert last(settled)["lot"] == lot
    missing = ("--maker-lot", "41-1", "--cassette", "slit", "--expiry", "2028-03", "--count", "5")
    assert "--nominal-flow" in keeper.run("lot", "receive", *missing, code=2)


def test_what_it_was_taken_from_is_corrected_by_its_number_alone(settled: Town) -> None:
    """The stop (SL-14) names a correction that the terminal then does not take."""
    _, (sample,) = settled.lot(1, cassette="swab")
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect-surface", sample, "--medium", "swab", "--room", "kitchen")
    form = inspector.answer("show")["forms"][0]["form"]
    assert "SL-14" in inspector.run("check", form, code=1)
    inspector.run("correct", sample, "material=wood", "--reason", "left_out")
    assert "SL-14" not in inspector.run("check", form, code=None)


def test_a_label_of_a_cassette_on_a_tape_is_asked_back_and_shown_without_a_flow(settled: Town) -> None:
    """The record prints a slit cassette of 15 L/min for a tape through which nothing was drawn."""
    _, (cassette, other) = settled.lot(2)
    _, (tape,) = settled.lot(1, cassette="tape")
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    said = flat(inspector.run("collect-surface", cassette, *TAPE, code=2))
    assert "was issued from a lot of cassettes, and this would be a sample of a surface" in said
    assert "Recorded: surface collected" in inspector.run("collect-surface", cassette, *TAPE, "--anyway")
    shown = inspector.run("show", cassette)
    assert "15.0 L/min" not in shown
    assert "ML-14" in shown
    assert "15.0 L/min" in inspector.run("show", other)
    run = ("collect", tape, *INDOOR, "--flow-before", "15.0", "--flow-after", "14.9", "--pump", "PUMP-7")
    assert "was issued from a lot of media for surfaces" in flat(inspector.run(*run, code=2))
    assert "ML-14" not in inspector.run("show", other)


def test_a_point_of_another_room_is_asked_back_of_a_surface(settled: Town) -> None:
    """A tape would stand on record at a point of the sketch that lies in another room."""
    _, (first,) = settled.lot(1)
    _, (second,) = settled.lot(1, cassette="tape")
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, first, INDOOR)
    point = last(settled)["point"]
    with served(settled), Terminal(inspector, "collect-surface", second, *TAPE, "--point", point) as screen:
        screen.sees(f"{point} would be in the kitchen")
        screen.sees("Which is wrong: 1 point on the sketch, 2 room; or y: it is so; or n: ")
        screen.types("2\n")
        screen.sees("Room again; or y: it is so; or n: ")
        screen.types("bedroom\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert (last(settled)["point"], last(settled)["room"]) == (point, "bedroom")
