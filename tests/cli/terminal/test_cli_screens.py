"""What is printed fits the screen: no number, time or command is broken, the verdict stands first, one cure
is said once.

The widths 80 and 60 are what a terminal has by default and what is left beside another window: common
practice, no source.
"""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

from bailee.domain import numbers
from bailee.errors import Forged, Refused
from bailee_cli.main import bailee
from bailee_cli.terminal import layout, show
from town import ENVELOPE, INDOOR, OPEN, OUTDOOR, SEAL, Person, Town, collect, to_the_clerk, verify_words

WIDTHS = (80, 60)
NUMBER = numbers.issue("sample", lambda _: "7")
OTHER = numbers.issue("sample", lambda _: "4")


def at(width: int, person: Person, *words: str, typed: str = "") -> Result:
    """A command on a screen of this width, and what a program puts on its standard input."""
    runner = CliRunner(env={"COLUMNS": str(width)})
    return runner.invoke(bailee, ["--as", person.name, *words], obj=person.session(), input=typed)


def finding(
    rule: str, severity: str, about: str, sentence: str, remedy: str = "Do this.", *acts: dict[str, Any]
) -> dict[str, Any]:
    """A finding as the service tells it."""
    return {
        "rule": rule,
        "severity": severity,
        "about": about,
        "sentence": sentence,
        "remedy": remedy,
        "acts": list(acts),
        "entries": [],
        "excepted": "",
    }


def require_whole(said: str, known: list[str], width: int) -> None:
    """Every line fits, and each of these numbers that is spoken of stands whole on a line, as
    on its label.
    """
    for line in said.splitlines():
        assert len(line) <= width or " " not in line.strip(), line
    lines = re.sub(r"`[^`]*`", "", said).splitlines()
    for number in known:
        group = numbers.grouped(number)
        told = " ".join(" ".join(lines).split()).count(group)
        assert told == sum(line.count(group) for line in lines), f"{group} is broken over lines"
        bare = [line for line in lines if re.search(rf"(?<![/\w.-]){number}\b", line)]
        assert bare == [], "a number is printed otherwise than on its label"


@given(
    words=st.lists(
        st.sampled_from(["a", "sample", "which", "everything", numbers.grouped(NUMBER), NUMBER]), min_size=1
    ),
    width=st.integers(40, 140),
    indent=st.integers(0, 8),
)
def test_numbers_are_never_broken_at_any_width(words: list[str], width: int, indent: int) -> None:
    """If this fails, a clerk reads half a number at the end of a line and types a wrong one."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", str(width))
        lines = layout.wrapped(" ".join(words), " " * indent)

    whole = [numbers.grouped(NUMBER) if word == NUMBER else word for word in words]
    assert " ".join(" ".join(lines).split()) == " ".join(whole)
    assert all(len(line) <= min(width, 100) for line in lines)
    assert sum(line.count(numbers.grouped(NUMBER)) for line in lines) == sum(
        word.startswith("S") for word in whole
    )


@pytest.mark.parametrize(
    "whole",
    [
        "2026-11-27",
        "10:30 (-06:00)",
        "2026-12-01 09:05",
        "72 h",
        "`bailee void NUMBER --reason dropped`",
    ],
)
def test_times_measures_and_commands_stay_on_one_line(whole: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """If this fails, somebody copies half a command, or reads a time without its offset."""
    monkeypatch.setenv("COLUMNS", "60")
    for before in range(60):
        lines = layout.wrapped(f"{'x' * before} {whole} and more")
        assert any(whole in line for line in lines), lines


@pytest.mark.parametrize("width", WIDTHS)
def test_the_verdict_stands_first_and_a_cure_once(
    width: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """If this fails, a clerk scrolls past ten equal cures to learn whether the envelope may go."""
    monkeypatch.setenv("COLUMNS", str(width))
    cure = (
        "Take the sample again with a cassette in date, or let a second person record why this one must be"
        " used."
    )
    found = [
        finding("ML-02", "block", NUMBER, f"{numbers.grouped(NUMBER)} was collected 2 days too late.", cure),
        finding("ML-02", "block", OTHER, f"{numbers.grouped(OTHER)} was collected 3 days too late.", cure),
        finding("SE-05", "warn", ENVELOPE, "The seal is not across the opening."),
    ]
    show.readiness({"ready": False, "findings": found}, f"envelope {numbers.grouped(ENVELOPE)}")
    said = capsys.readouterr().out
    flat = " ".join(said.split())

    assert said.startswith("NOT READY: 2 stops, 1 warning. Envelope E333 3333 3338.")
    assert flat.count(cure) == 1
    assert f"ML-02 sample {numbers.grouped(NUMBER)}, sample {numbers.grouped(OTHER)}" in flat
    assert flat.index("Stops") < flat.index("ML-02") < flat.index("Warnings") < flat.index("SE-05")
    require_whole(said, [NUMBER, OTHER, ENVELOPE], width)


def test_a_cure_that_names_each_thing_is_said_once_for_all(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """If this fails, twelve cassettes of one lot fill three screens with one command."""
    monkeypatch.setenv("COLUMNS", "80")
    show.findings(
        [
            finding(
                "ML-02",
                "block",
                each,
                "Too late.",
                "Allow it.",
                {"act": "excepted", "rule": "ML-02", "about": each},
            )
            for each in (NUMBER, OTHER)
        ]
    )
    said = capsys.readouterr().out

    assert said.count("bailee except") == 1
    assert "do, with each NUMBER above: Allow it.\n        `bailee except ML-02 NUMBER`\n" in said


def test_what_an_error_offers_is_told_as_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, somebody is told to make a new link and not how, or what a service made up stops the
    program.
    """
    from bailee_cli.main import tell

    tell(Forged("This link was used already: make a new one.", acts=[{"act": "make_link"}]))
    assert capsys.readouterr().err == "This link was used already: make a new one.\nDo: `bailee pages`\n"
    tell(Refused("Several sampling firms used it: name the form.", also="form"))
    assert capsys.readouterr().err.endswith("Do: `--form …`\n")
    for strange in ("pages", [1, None, {"act": ["x"]}], {"act": "make_link"}):
        tell(Forged("Not this.", acts=strange))
        assert capsys.readouterr().err == "Not this.\n"


def test_one_is_one_and_two_are_two() -> None:
    """If this fails, a screen says "1 warnings", and people stop reading it."""
    one = [finding("SE-05", "warn", ENVELOPE, "x")]
    assert show.count(one) == "1 warning"
    assert show.count(one * 2) == "2 warnings"
    assert show.count([]) == "no findings"
    assert show.warned(1).startswith("1 warning is acknowledged")
    assert show.warned(2).startswith("2 warnings are acknowledged")
    assert show.counted(1, "sample") == "1 sample"
    assert show.counted(0, "sample") == "0 samples"


def test_a_table_stands_in_columns_or_below_each_other(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """If this fails, a wide list is broken into columns of four characters."""
    rows = [(NUMBER, "bedroom by the window", "collected"), (OTHER, "basement", None)]
    monkeypatch.setenv("COLUMNS", "80")
    show.table("Samples", ["sample", "where", "state"], rows)
    wide = capsys.readouterr().out.splitlines()
    monkeypatch.setenv("COLUMNS", "40")
    show.table("Samples", ["sample", "where", "state"], rows)
    narrow = capsys.readouterr().out.splitlines()

    assert wide[1].split() == ["sample", "where", "state"]
    assert wide[2] == f"  {numbers.grouped(NUMBER)}  bedroom by the window  collected"
    assert narrow == [
        "Samples",
        f"  {numbers.grouped(NUMBER)}",
        "    where: bedroom by the window;",
        "    state: collected",
        f"  {numbers.grouped(OTHER)}",
        "    where: basement",
    ]


def test_without_a_terminal_a_line_has_a_hundred_characters(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """If this fails, a script reads another text when its owner makes a window wider."""
    monkeypatch.delenv("COLUMNS", raising=False)
    with monkeypatch.context() as patch:  # whoever runs the tests asks for the size of a terminal, too
        patch.setattr("shutil.get_terminal_size", lambda *_, **__: os.terminal_size((42, 24)))
        show.say("word " * 60)

    assert max(map(len, capsys.readouterr().out.splitlines())) == 99  # twenty words of four letters


def test_a_sender_cannot_move_the_cursor(capsys: pytest.CaptureFixture[str]) -> None:
    """If this fails, a name somebody chose paints over what the rules found."""
    show.say("Mallory\x1b[2J\u202e", "  \x1b[2JOC-01  ")
    shown = (
        "  \N{REPLACEMENT CHARACTER}[2JOC-01  Mallory\N{REPLACEMENT CHARACTER}[2J\N{REPLACEMENT CHARACTER}\n"
    )
    assert capsys.readouterr().out == shown


@pytest.fixture
def incomplete(settled: Town) -> tuple[Town, str, list[str], str]:
    """Three indoor samples without an outdoor control, in the clerk's hands; and a spare cassette."""
    lot, samples = settled.lot(4)
    form = str(settled.person("inspector").answer(*OPEN)[0]["chain"]).removeprefix("form/")
    for each in samples[:3]:
        collect(settled, each, INDOOR)
    to_the_clerk(settled, samples[:3])
    return settled, form, samples, lot


@pytest.mark.parametrize("width", WIDTHS)
def test_what_stops_an_envelope_can_be_read(incomplete: tuple[Town, str, list[str], str], width: int) -> None:
    """If this fails, a clerk at an ordinary window reads numbers broken over three lines."""
    town, form, samples, lot = incomplete
    clerk, known = town.person("clerk"), [*samples, form, lot, ENVELOPE]

    sealed = at(width, clerk, "seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    assert sealed.exit_code == 1
    assert sealed.output.startswith("NOT READY: 1 stop"), sealed.output
    assert "OC-01  form" in sealed.output
    require_whole(sealed.stdout, known, width)

    checked = at(width, clerk, "check", form)
    assert checked.exit_code == 1
    assert checked.output.startswith("Findings: 1 stop")
    require_whole(checked.output, known, width)
    for words in (
        ["show", form],
        ["show", samples[0]],
        ["show", samples[3]],
        ["show"],
        ["lot", "show", lot],
        ["lot", "show"],
    ):
        shown = at(width, clerk if words[0] == "show" else town.person("keeper"), *words)
        assert shown.exit_code == 0
        require_whole(shown.output, known, width)


def test_a_sample_is_shown_with_what_the_check_of_its_form_says_of_it(
    incomplete: tuple[Town, str, list[str], str],
) -> None:
    """If this fails, `show SAMPLE` calls clean what `check` stops."""
    town, form, samples, _ = incomplete
    clerk = town.person("clerk")
    town.person("inspector").run("void", samples[2], "--reason", "dropped")
    of_form = clerk.answer("check", form, code=1)["findings"]
    of_sample = clerk.answer("show", samples[0])["findings"]

    assert "OC-01" in {each["rule"] for each in of_sample}
    others = [each for each in of_form if each not in of_sample]
    assert all(each["about"] in samples[1:] for each in others)
    assert "OC-01  form" in clerk.run("show", samples[0])


@pytest.mark.parametrize("width", WIDTHS)
def test_a_journey_can_be_read(shipped: tuple[Town, list[str]], width: int, tmp_path: Path) -> None:
    """If this fails, a chase list, a recall or an auditor's report breaks the numbers it is about."""
    town, samples = shipped
    clerk, keeper = town.person("clerk"), town.person("keeper")
    form = clerk.answer("show")["forms"][0]["form"]
    lot = clerk.answer("show", samples[0])["lot"]["lot"]
    known = [*samples, form, lot, ENVELOPE]
    file = tmp_path / "bundle.json"
    clerk.run("bundle", form, "-o", str(file))
    town.clock.advance(days=6)
    keeper.run("lot", "recall", lot, "--reason", "maker")
    for person, *words in (
        (clerk, "chase"), (clerk, "check", ENVELOPE), (clerk, "check", ENVELOPE, "--as-sealed"),
        (clerk, "show", ENVELOPE), (clerk, "show", samples[0]),
        (clerk, "window", "--for", ENVELOPE, "--carrier", "acorn-freight"), (keeper, "lot", "uses", lot),
        (clerk, "verify", str(file), *verify_words(town)), (clerk, "outbox"),
    ):  # fmt: skip
        said = at(width, person, *words)
        assert said.exit_code in (0, 1), said.output
        assert "Traceback" not in said.output
        require_whole(said.output, known, width)
    chased = at(width, clerk, "chase").output
    assert chased.startswith("To chase: ")
    assert "OVERDUE  no receipt on record" in chased


def test_times_are_told_on_the_clocks_of_the_visit(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a clerk with a laptop from another zone reads an envelope as sealed hours
    before it was.
    """
    town, samples = shipped
    clerk = town.person("clerk")
    sealed = clerk.answer("show", ENVELOPE)["sealed_at"]

    said = clerk.run("show", ENVELOPE)
    # America/New_York is five hours behind universal time in December (IANA time zone database).
    assert re.search(r"sealed +2026-12-01 \d\d:\d\d America/New_York", said), said
    assert f"{show.clock(sealed, 'America/New_York')} America/New_York" in said
    assert "(times in America/New_York)" in clerk.run("show", samples[0])
    assert show.when("2026-12-01T14:40:00+00:00", "America/New_York") == "2026-12-01 09:40 America/New_York"
    assert show.when("2026-12-01T14:40:00+00:00") == "2026-12-01 14:40 (+00:00)"


def test_programs_get_the_same_at_every_width(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a script breaks when a window is made smaller."""
    town, _ = shipped
    told = [
        json.loads(at(width, town.person("clerk"), "--json", "show", ENVELOPE).stdout) for width in (40, 200)
    ]
    assert told[0] == told[1]
    assert told[0]["envelope"] == ENVELOPE


def test_what_a_clerk_is_asked_names_the_time_and_its_zone(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a clerk signs a sealing at the hour of a laptop that was set somewhere else."""
    town, samples = visited
    clerk = town.person("clerk")
    here = show.when(town.clock.now.isoformat(timespec="seconds"), "America/New_York")
    said = clerk.run(
        "seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL[:-1], typed="y\n"
    )  # fmt: skip
    assert f"Seal 3 samples into E333 3333 3338 with seal C-4711 at {here}?" in said
    words = ("ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1")
    assert f"acorn-freight, next day, at {here}?" in clerk.run(*words, typed="y\n")


@pytest.mark.parametrize("width", WIDTHS)
def test_a_visit_and_a_hand_over_fit_the_screen(settled: Town, width: int) -> None:
    """If this fails, cautions and questions break in the middle of words on the small screen that is carried
    into the cellar.
    """
    _, samples = settled.lot(3)
    inspector, clerk = settled.person("inspector"), settled.person("clerk")
    said = at(width, inspector, "plan").output + at(width, inspector, *OPEN).output
    assert "Look first." in said
    notice = (
        "notice",
        "--visit",
        "2026-12-03 09:00",
        "--zone",
        "America/New_York",
        "--pdf",
        str(settled.folder / "n.pdf"),
    )
    said += at(width, inspector, *notice).stderr
    settled.clock.advance(minutes=10)
    settled.line.weather = "down"
    for _ in range(2):
        said += at(width, inspector, "collect", samples[0], *INDOOR).output
    assert "Signed already at 14:10, waiting to be sent" in " ".join(said.split())
    settled.line.weather = "fine"
    at(width, inspector, "send")
    collect(settled, samples[1], INDOOR)
    collect(settled, samples[2], OUTDOOR)
    to_the_clerk(settled, samples)
    words = ("seal", *samples, "--envelope", ENVELOPE, "--counted", "3", *SEAL[:-1])
    seal = at(width, clerk, *words, typed="n\n")
    said += seal.output
    assert "America/New_York? [y/N]: " in " ".join(seal.output.splitlines())
    require_whole(said, samples, width)


def test_what_may_be_corrected_is_told_on_the_clocks_of_the_visit(settled: Town) -> None:
    """If this fails, the inspector looks for what was said at nine and finds fourteen, and the number of the
    statement on the next line.
    """
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    # 14:10 UTC is 09:10 in New York on 1 December (zoneinfo).
    said = at(80, inspector, "correct", samples[0]).output.splitlines()
    assert said[0].startswith("Collected, entry 2, by Inspector Person, 2026-12-01 09:10 America/New_York")
    assert "--statement 2" in " ".join(said[:2])
    assert any(line.endswith("--statement 2") for line in said[:2])


@pytest.mark.parametrize(("many", "times"), [(5, 1), (6, 2)])
def test_the_verdict_over_a_screenful_is_said_once_more_at_its_end(
    many: int, times: int, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever reads the end of a long screen sees notes, and that it is not ready has left it."""
    found = [
        {
            "rule": f"XX-{n}",
            "severity": "block",
            "about": "flow",
            "sentence": "So it is.",
            "remedy": "Mend it.",
            "acts": [],
        }
        for n in range(many)
    ]
    show.readiness({"ready": False, "findings": found}, "the envelope")
    said = capsys.readouterr().out.strip().splitlines()

    assert sum("NOT READY" in line for line in said) == times
    assert ("NOT READY" in said[-1]) == (times == 2)
    assert "NOT READY" in said[0]
