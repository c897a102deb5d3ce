"""`sh demo/run --no-serve`: the journey is played for real, and what it leaves behind is what it says."""

from __future__ import annotations

import http.client
import io
import json
import re
import subprocess
import sys
import tomllib
from concurrent.futures import ThreadPoolExecutor
from contextlib import redirect_stdout
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import once_a_run
import pypdfium2
import pytest
import zxingcpp
from pypdf import PdfReader

from bailee.cosigning import folder as folders
from bailee.ledger.checkpoint import parse_vkey, read_note
from bailee.signing import notes

DEMO = Path(__file__).resolve().parents[2] / "demo"
sys.path.insert(0, str(DEMO))

import cast  # noqa: E402 - the modules of the demonstration lie beside its start
import ground  # noqa: E402
import play  # noqa: E402
import screens  # noqa: E402
import stage  # noqa: E402

EXPECTED = (
    "DEMO KEYS \N{EM DASH} NOT EVIDENCE",
    "Before you start",
    "Volume 74.75 L (14.95 L/min for 300 s).",
    "No outdoor control yet.",
    "Signed and saved on this device, not sent yet",
    "NOT READY",
    "no outdoor control. None",
    "seal HF-20417: 5 samples",
    "Expected delivery",
    "Discrepancies: none.",
    "No findings.",
    "HAS PASSED",
    "3 warnings are acknowledged by signing",
    "The seal is broken. 4 counted; 5 on record.",
    "allowed by exception, signed by",
    "break in custody. Found by CU-05.",
    "Cosigned demo.quill-lab.example/log1 with 1 entry.",
    "Records: unaltered, complete and cosigned",
    "Records: do not verify",
    "The signature does not fit",
    "A visitor made three keys in a browser",
    "Demo keys \N{EM DASH} not evidence. To look at, in the folder",
)


@dataclass(frozen=True)
class Played:
    """What a person has after the demonstration."""

    code: int
    said: str
    folder: Path

    def first(self, step: str) -> str:
        """Everything that stood on the first screen whose name contains this."""
        return min((self.folder / "screens").glob(f"*{step}*")).read_text()


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The whole journey, once."""

    def make(folder: Path) -> None:
        said = io.StringIO()
        arguments = ["--no-serve", "--out", str(folder / "out")]
        with (
            redirect_stdout(said),
            ThreadPoolExecutor(1) as beside,
        ):  # a browser may be open here
            code = beside.submit(play.main, arguments).result()
        (folder / "played.json").write_text(json.dumps([code, said.getvalue()]))

    folder = once_a_run.folder_of(tmp_path_factory, "demo", make)
    code, said = json.loads((folder / "played.json").read_text())
    return Played(code, said, folder / "out")


@pytest.mark.slow
def test_the_journey_says_what_it_should(played: Played) -> None:
    """If this fails, somebody who tries it for the first time does not see what it is for."""
    assert played.code == 0
    shown = re.sub(r"\s+", " ", re.sub(r"^    │ ", "", played.said, flags=re.MULTILINE))
    if "Left out: the screens in a browser" in shown:  # and says so where no browser is
        shown += EXPECTED[-2]
    assert [sentence for sentence in EXPECTED if sentence not in shown] == []


@pytest.mark.slow
def test_it_fits_a_terminal_of_a_hundred_columns(played: Played) -> None:
    """If this fails, lines break in the middle and the first impression is a mess."""
    assert [
        line for line in played.said.splitlines() if len(line) > 100 and str(played.folder) not in line
    ] == []


@pytest.mark.slow
def test_the_labels_can_be_scanned(played: Played) -> None:
    """If this fails, the printed sheet is decoration. Read back by zxing-cpp, a reader that is not ours."""
    page = pypdfium2.PdfDocument(played.folder / "labels.pdf")[0]
    found = {each.text for each in zxingcpp.read_barcodes(page.render(scale=4).to_pil())}
    issued = {
        line.replace(" ", "")
        for line in re.findall(r"^S\w{3} \w{4} \w{4}$", played.first("keeper-lot"), re.MULTILINE)
    }
    assert len(issued) == 4
    assert {text.rpartition("/")[2] for text in found if "/S/" in text} == issued


@pytest.mark.slow
def test_the_papers_say_what_they_are(played: Played) -> None:
    """If this fails, a paper of the demonstration could be taken for evidence."""
    papers = (
        ("custody-record.pdf", "Ines Marlow"),
        ("custody-record-to-enclose.pdf", "To be closed with seal"),
        ("sealed-sheet.pdf", "At the dock, in ink"),
    )
    for name, said in papers:
        text = "".join(page.extract_text() for page in PdfReader(played.folder / name).pages)
        assert "not evidence" in text
        assert said in text
    assert (played.folder / "envelope-label.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.slow
def test_the_files_verify_and_the_altered_one_does_not(played: Played) -> None:
    """If this fails, the demonstration of verification shows a verifier that agrees with everything."""
    words = re.findall(r"--(?:root|policy) \S+", played.first("auditor-verify").partition("\n")[0])
    assert [word.partition(" ")[0] for word in words] == ["--root", "--root", "--policy"]
    trust = [part for word in words for part in word.split()]
    ends = {"good-visit.json": 0, "bad-visit.json": 1, "good-visit-altered.json": 1}
    states = {}
    for name, code in ends.items():
        done = subprocess.run(
            [*ground.BAILEE, "verify", str(played.folder / name), *trust, "--json"],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == code, done.stdout + done.stderr
        states[name] = json.loads(done.stdout)["state"]
    assert states == {
        "good-visit.json": "complete and cosigned",
        "bad-visit.json": "complete and cosigned",
        "good-visit-altered.json": "broken",
    }


@pytest.mark.slow
@pytest.mark.parametrize(("log", "cosigner"), [("ledger", "lab-cosigner"), ("lab-ledger", "firm-cosigner")])
def test_each_log_carries_the_line_of_the_others_cosigner(played: Played, log: str, cosigner: str) -> None:
    """If this fails, only one of the two vouches for the other, or each vouches for itself."""
    note = (played.folder / log / "tiles" / "checkpoint").read_text()
    settings = tomllib.loads((played.folder / log / "settings.toml").read_text())
    (named,) = settings["cosigners"]
    kept = folders.load(played.folder / cosigner)
    assert parse_vkey(named.partition(" ")[0]) == kept.verifier
    assert notes.cosigned_at(read_note(note), kept.verifier) is not None
    assert kept.origins == (settings["origin"],)
    assert kept.verifier.name.split(".")[0] not in settings["origin"]


@pytest.mark.slow
def test_the_altered_copy_differs_in_one_entry(played: Played) -> None:
    """If this fails, the copy that is caught is so different that anybody would have caught it."""
    good, altered = (
        json.loads((played.folder / n).read_text()) for n in ("good-visit.json", "good-visit-altered.json")
    )
    assert [a == b for a, b in zip(good["entries"], altered["entries"], strict=True)].count(False) == 1
    assert {name: value for name, value in good.items() if name != "entries"} == {
        name: value for name, value in altered.items() if name != "entries"
    }


@pytest.mark.slow
def test_every_screen_is_kept(played: Played) -> None:
    """If this fails, what was only shown in short cannot be looked up."""
    steps = [int(number) for number in re.findall(r"^ ?(?: |[0-9])([0-9]+) [A-Z]", played.said, re.MULTILINE)]
    kept = {int(file.name[:2]) for file in (played.folder / "screens").iterdir()}
    assert kept == set(range(1, max(kept) + 1))
    assert len(steps) == len(kept)
    assert (played.folder / "journey.txt").read_text() == played.said


def test_the_start_ends_with_the_one_address_to_open(tmp_path: Path) -> None:
    """If this fails, a first visitor has to search the screen for the address at which it is played."""
    said = io.StringIO()
    told = stage.Stage(tmp_path, said)
    there = screens.Screens(cast.Story(told, "UTC", "http://127.0.0.1:9", "", tmp_path), 8123)
    play.where_to_play(told, there)
    assert said.getvalue().endswith("\n\nhttp://localhost:8123/\n")
    assert said.getvalue().count("http") == 1


def test_no_other_page_lets_a_key_in(tmp_path: Path) -> None:
    """If this fails, any page that is open beside the demonstration signs in the name of its firm."""
    story = cast.Story(stage.Stage(tmp_path, io.StringIO()), "UTC", "http://127.0.0.1:9", "", tmp_path)
    with screens.served(story) as there:
        own = there.address("inspector")
        for host, origin, path in (
            (own, "http://elsewhere.example", "/demo/"),
            (own, "", "/demo/"),
            (there.address("clerk"), own, "/demo/"),
            (there.address("auditor"), own, "/"),
            (f"http://elsewhere.example:{there.port}", f"http://elsewhere.example:{there.port}", "/demo/"),
            (there.address(), there.address(), "/demo/"),
        ):
            asked = http.client.HTTPConnection("127.0.0.1", there.port, timeout=60)
            headers = {"Host": host.removeprefix("http://"), "Origin": origin}
            asked.request("POST", path, "{}", headers)
            assert asked.getresponse().status == 404, (host, origin)
            asked.close()
        asked = http.client.HTTPConnection("127.0.0.1", there.port, timeout=60)
        asked.request("GET", "/", headers={"Host": own.removeprefix("http://inspector.")})
        guide = asked.getresponse().read().decode()
        asked.close()
        assert f"{own}/demo/#join/harrow-field" in guide
    assert there.names == {}


def test_a_folder_of_somebody_else_is_never_touched(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """If this fails, a slip in --out deletes somebody's work."""
    (tmp_path / "thesis.txt").write_text("years of work")
    assert play.main(["--no-serve", "--out", str(tmp_path)]) == 1
    assert "nothing in it is touched" in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["thesis.txt"]


def test_a_second_run_starts_clean(tmp_path: Path) -> None:
    """If this fails, the second run shows yesterday's files or stops at a ledger that is there already."""
    ground.fresh(tmp_path / "out")
    (tmp_path / "out" / "old.pdf").write_text("yesterday")
    ground.fresh(tmp_path / "out")
    assert [each.name for each in (tmp_path / "out").iterdir()] == [ground.MARKER]


def test_a_screen_that_says_something_else_ends_it(tmp_path: Path) -> None:
    """If this fails, the demonstration goes on over a fault and calls it done."""
    stage = play.Stage(tmp_path, io.StringIO())
    with pytest.raises(ground.DemoError, match="did not say 'never said'"):
        stage.step("Somebody asks for help.", "anybody", "key", "--help", shows=["never said"])
    with pytest.raises(ground.DemoError, match="ended with 0 and not with 1"):
        stage.step("Somebody asks for help.", "anybody", "key", "--help", code=1)


def test_it_is_day_somewhere_at_every_hour_of_the_year() -> None:
    """If this fails, the demonstration breaks at night: runs before midnight, a cut-off
    missed, another day.
    """
    hour = datetime(2026, 1, 1, tzinfo=UTC)
    while hour.year == 2026:
        zone = cast.daytime_zone(hour)
        assert 9 <= hour.astimezone(ZoneInfo(zone)).hour < 16
        hour += timedelta(minutes=30)
