"""Media, keeping, administration: the verbs around the visit, each against the real service."""

from __future__ import annotations

import json

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from bailee.domain import numbers
from bailee.signing import signed_statement
from bailee_cli.device.outbox import Kept
from field import FIRM, LAB
from terminal import Terminal, served
from town import ENVELOPE, INDOOR, OPEN, OUTDOOR, SEAL, Town, collect, to_the_clerk


def last(town: Town, name: str) -> Kept:
    """What somebody signed last."""
    outbox = town.person(name).session().of(name, as_json=False).outbox
    kept = outbox.newest(1)[0]
    outbox.close()
    return kept


def data_of(kept: Kept) -> dict[str, object]:
    """Its public facts."""
    return dict(signed_statement.read(kept.text).claims.data)


def test_a_recalled_lot_is_said_at_the_next_scan_and_can_be_released(settled: Town) -> None:
    """If this fails, cassettes of a recalled lot go on being used until somebody reads a letter."""
    lot, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.person("keeper").run("lot", "recall", lot, "--reason", "maker", "--note", "letter of Tuesday")
    assert "IS RECALLED" in collect(settled, samples[0], INDOOR)
    assert "recalled" in settled.person("keeper").run("lot", "show")
    assert "yes: do not use" in settled.person("keeper").run("lot", "show", lot)
    settled.person("quality").run("lot", "release", lot, "--reason", "checked")
    assert "not now; 2026-" in (said := settled.person("keeper").run("lot", "show", lot))
    assert "(maker), lifted 2026-" in _flat(said)  # it stays visible
    assert "IS RECALLED" not in collect(settled, samples[1], INDOOR)
    settled.person("keeper").run("lot", "count", lot, "--remaining", "0", "--voided", "1")
    assert data_of(last(settled, "keeper")) == {"remaining": 0, "voided": 1}


def test_a_recalled_lot_is_not_issued_and_another_one_is_advised(settled: Town) -> None:
    """The media keeper at the shelf was told to collect again and to void a sample that nobody took."""
    lot, _ = settled.lot(2)
    keeper = settled.person("keeper")
    keeper.run("lot", "recall", lot, "--reason", "maker")
    said = keeper.run("lot", "issue", lot, "--count", "1", code=1)
    assert "Use another lot." in said
    assert "Still on site: collect again" not in said
    assert "may allow it" not in said


def test_a_sheet_prints_what_was_issued_last_and_no_label_twice(settled: Town) -> None:
    """Each sheet held all numbers ever issued: an older one was stuck on a second cassette."""
    lot, older = settled.lot(2)
    keeper, pdf = settled.person("keeper"), settled.folder / "labels.pdf"
    keeper.run("lot", "issue", lot, "--count", "3", "--anyway")
    new = [each for each in keeper.answer("lot", "show", lot)["issued"] if each not in older]

    def on_paper() -> set[str]:
        page = pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72).to_pil()
        return {
            each.text.rpartition("/")[2]
            for each in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
        }

    said = keeper.run("label", "sheet", lot, "--pdf", str(pdf))
    assert "3 labels. 2 older numbers were left out: --all." in said
    assert on_paper() == set(new)
    said = keeper.run("label", "sheet", lot, "--all", "--pdf", str(pdf))
    assert "5 labels." in said
    assert "left out" not in said
    assert on_paper() == {*older, *new}


def test_a_shift_is_kept_for_its_layout_until_another_is_typed(settled: Town) -> None:
    """The printer was set by the test page, and the sheet printed a minute later was off all the same."""
    lot, _ = settled.lot(2)
    keeper, pdf = settled.person("keeper"), settled.folder / "labels.pdf"

    def upper_left() -> tuple[float, float]:
        page = pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72).to_pil()
        corners = [
            each.position.top_left
            for each in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
        ]
        return min(each.x for each in corners) / 300 * 25.4, min(each.y for each in corners) / 300 * 25.4

    keeper.run("label", "sheet", lot, "--pdf", str(pdf))
    plain = upper_left()
    keeper.run("label", "test", "--pdf", str(pdf), "--shift", "-1.6,0.8")
    said = keeper.run("label", "sheet", lot, "--pdf", str(pdf))
    assert "Shifted by -1.6,0.8 mm, as kept for letter-30." in said
    assert upper_left() == (pytest.approx(plain[0] - 1.6, abs=0.2), pytest.approx(plain[1] + 0.8, abs=0.2))
    assert "Labels cannot be shifted by '9,9'" in _flat(
        keeper.run("label", "sheet", lot, "--pdf", str(pdf), "--shift", "9,9", code=2)
    )
    assert keeper.answer("label", "test", "--pdf", str(pdf))["shift"] == "-1.6,0.8", "a refused one was kept"
    assert "Shifted" not in keeper.run("label", "sheet", lot, "--pdf", str(pdf), "--layout", "a4-24")
    keeper.run("label", "sheet", lot, "--pdf", str(pdf), "--shift", "0,0")
    assert upper_left() == pytest.approx(plain, abs=0.01)


def test_a_roll_prints_the_lot_that_came_last_a_page_a_label(settled: Town) -> None:
    """Who has a roll printer would copy numbers off a sheet by hand."""
    lot, samples = settled.lot(3)
    keeper, pdf = settled.person("keeper"), settled.folder / "labels.pdf"
    said = keeper.run("label", "sample", "--lot", lot, "--pdf", str(pdf), "--size", "38x19")
    assert "3 labels." in said
    pages = [page.render(scale=300 / 72).to_pil() for page in pypdfium2.PdfDocument(pdf)]
    read = [
        [
            each.text.rpartition("/")[2]
            for each in zxingcpp.read_barcodes(page, formats=zxingcpp.BarcodeFormat.QRCode)
        ]
        for page in pages
    ]
    assert read == [[sample] for sample in samples]
    keeper.run("label", "sample", samples[0], "--pdf", str(pdf), "--size", "38x19")
    assert len(pypdfium2.PdfDocument(pdf)) == 1
    said = _flat(keeper.run("label", "sample", samples[0], "--pdf", str(pdf), "--size", "30x15", code=2))
    assert "This label cannot be '30x15'" in said
    assert "at least 38x19" in said
    assert "Enter which sample" in _flat(keeper.run("label", "sample", "--png", str(pdf), code=2))


def test_a_lot_out_of_date_is_offered_to_be_counted_out(settled: Town) -> None:
    """What is thrown away stayed in the count, and on the list, because no line said how to enter it."""
    lot, _ = settled.lot(2)
    settled.person("keeper").run("lot", "count", lot, "--remaining", "5", "--anyway")
    settled.clock.advance(days=180)
    keeper = settled.person("keeper")
    said = keeper.run("chase", code=1)
    assert "Remove it from the shelf and record the count." in said
    assert f"bailee lot count {lot} --remaining 0 --voided 5" in said
    keeper.run("lot", "count", lot, "--remaining", "0", "--voided", "5")
    assert "record the count" not in keeper.run("chase")


def test_an_expired_lot_is_said_without_a_network(settled: Town) -> None:
    """If this fails, an inspector in a basement learns at the laboratory that the cassette was
    out of date.
    """
    # Expiry "2026-12" is the 31st, inclusive (common practice, no source); the visit is on 1 January.
    _, samples = settled.lot(1, expiry="2026-12")
    settled.clock.advance(days=31)
    settled.person("inspector").run(*OPEN)
    settled.line.weather = "down"

    assert "expiration date 2026-12-31 HAS PASSED" in collect(settled, samples[0], INDOOR)


def test_days_of_grace_count_at_the_pump_as_they_do_at_the_seal(settled: Town) -> None:
    """If this fails, the phone calls a cassette expired that every rule lets pass, and a good visit is
    repeated.
    """
    # Grace: common practice, no source. Last good day the 31st; the visit is on 1 January, and the next on
    # the 2nd.
    _, (first, second) = settled.lot(2, expiry="2026-12")
    thresholds = settled.folder / "grace.toml"
    thresholds.write_text("edition = 1\nexpiry_grace_days = 1\n", "utf-8")
    settled.people["firm-root"].run("policy", str(thresholds))
    settled.clock.advance(days=31)
    settled.person("inspector").run(*OPEN)

    said = collect(settled, first, INDOOR)
    assert "expiration date 2026-12-31 has passed; your firm's limits let it be used until 2027-01-01" in said
    settled.clock.advance(days=1)
    assert "expiration date 2026-12-31 HAS PASSED" in collect(settled, second, (*OUTDOOR, "--anyway")), (
        "a day after its visit"
    )


def test_a_cassette_of_no_known_lot_asks_for_the_box(settled: Town) -> None:
    """If this fails, a sample is recorded without a lot, and nobody can say whether it was in date."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    stranger = numbers.issue("sample", lambda _: "4")
    assert "--lot" in inspector.run("collect", stranger, *INDOOR, code=2)
    assert len(inspector.outbox()) == 1


def test_more_numbers_than_one_statement_holds_are_issued_in_several(settled: Town) -> None:
    """If this fails, a firm that prints a year's labels at once gets none."""
    _, samples = settled.lot(401)

    assert len(set(samples)) == 401
    assert [each["act"] for each in settled.person("keeper").outbox()] == [
        "lot_received",
        "issued",
        "issued",
        "issued",
    ]


def test_a_box_says_its_expiry_or_that_it_has_none(settled: Town) -> None:
    """If this fails, a forgotten expiry looks like a box that never expires."""
    words = (
        "lot",
        "receive",
        "--maker-lot",
        "1",
        "--cassette",
        "slit",
        "--count",
        "5",
        "--nominal-flow",
        "15.0",
    )
    keeper = settled.person("keeper")
    assert "--expiry" in keeper.run(*words, code=2)
    assert "--expiry" in keeper.run(*words, "--expiry", "2027-03", "--no-expiry", code=2)
    keeper.run(*words, "--no-expiry")
    assert data_of(last(settled, "keeper"))["expiry"] is None


def test_a_box_out_of_date_is_recorded_and_the_screen_says_what_is_so(settled: Town) -> None:
    """The keeper would read "Recorded" and "Nothing was signed" one below the other, and record the box
    again; most often the date was mistyped.
    """
    keeper = settled.person("keeper")
    words = ("lot", "receive", "--maker-lot", "1", "--cassette", "slit", "--count", "5")
    box = (*words, "--nominal-flow", "15.0", "--issue", "5", "--expiry")
    said = " ".join(keeper.run(*box, "2026-03", code=1).split())

    assert "The box is recorded; no numbers were issued." in said
    assert "Nothing was signed" not in said
    number = last(settled, "keeper").chain.removeprefix("lot/")
    assert f"`bailee lot expiry {number} … --reason misread`" in said
    assert "Nothing was signed." in keeper.run("lot", "issue", number, "--count", "5", code=1)
    assert "13 is not a month" in keeper.run(*box, "2027-13", code=2)


def test_labels_and_the_custody_record_are_written_to_files(settled: Town) -> None:
    """If this fails, nothing can be printed from a terminal."""
    lot, samples = settled.lot(3)
    keeper, clerk, folder = settled.person("keeper"), settled.person("clerk"), settled.folder
    keeper.run("label", "sheet", lot, "--pdf", str(folder / "sheet.pdf"), "--skip", "2")
    keeper.run(
        "label",
        "sample",
        samples[0],
        "--png",
        str(folder / "s.png"),
        "--svg",
        str(folder / "s.svg"),
    )
    for layout, places in (("letter-30", 30), ("a4-24", 24), ("letter-70", 70), ("a4-75", 75)):
        words = ("label", "sheet", lot, "--pdf", str(folder / "no.pdf"), "--layout", layout)
        said = keeper.run(*words, "--skip", str(places), code=2)
        assert f"This sheet has {places} labels: skip 0 to {places - 1} of them, not {places}." in said
    assert "--png FILE" in keeper.run("label", "sample", samples[0], code=2)
    settled.person("inspector").run(*OPEN)
    for sample, what in zip(samples, (INDOOR, INDOOR, OUTDOOR), strict=True):
        collect(settled, sample, what)
    to_the_clerk(settled, samples)
    clerk.run("seal", *samples, "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("label", "envelope", ENVELOPE, "--pdf", str(folder / "e.pdf"), "--png", str(folder / "e.png"))
    other = numbers.issue("envelope", lambda _: "7")
    told = clerk.run("label", "envelope", other, "--pdf", str(folder / "o.pdf"), code=1)
    assert "seal it first and then print the label." in " ".join(told.split())
    assert not (folder / "o.pdf").exists()
    form = clerk.answer("show")["forms"][0]["form"]
    clerk.run("record", form, "-o", str(folder / "record.pdf"))

    # PDF 1.7 7.5.2, PNG 5.2 (from memory): how such files begin
    begins = {
        "sheet.pdf": b"%PDF-",
        "s.png": b"\x89PNG\r\n",
        "e.pdf": b"%PDF-",
        "e.png": b"\x89PNG\r\n",
        "record.pdf": b"%PDF-",
    }
    assert {name: (folder / name).read_bytes()[: len(magic)] for name, magic in begins.items()} == begins
    assert b"<svg" in (folder / "s.svg").read_bytes()


def test_a_label_is_drawn_for_the_printer_at_hand(settled: Town) -> None:
    """If this fails, labels for a 300 dpi printer come out at two thirds of their size."""
    _, samples = settled.lot(1)
    settled.person("keeper").run(
        "label", "sample", samples[0], "--png", str(settled.folder / "s.png"), "--dpi", "300"
    )
    with Image.open(settled.folder / "s.png") as drawn:
        millimeters = [side / dpi * 25.4 for side, dpi in zip(drawn.size, drawn.info["dpi"], strict=True)]
        assert drawn.info["dpi"] == pytest.approx((300, 300), abs=0.05)
    assert millimeters == pytest.approx([50, 25], abs=0.1)


def test_an_envelope_opened_again_needs_a_new_seal(settled: Town) -> None:
    """If this fails, a forgotten outdoor control is slipped in without a trace."""
    _, samples = settled.lot(4)
    settled.person("inspector").run(*OPEN)
    for sample, what in zip(samples, (INDOOR, INDOOR, OUTDOOR, INDOOR), strict=True):
        collect(settled, sample, what)
    to_the_clerk(settled, samples)
    clerk = settled.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("unseal", ENVELOPE, "--reason", "add_sample", typed="c-4711\n")
    assert data_of(last(settled, "clerk"))["seal"] == "C-4711"
    said = clerk.run("seal", *samples, "--envelope", ENVELOPE, "--counted", "4", *SEAL, code=1)
    assert "NOT READY" in said
    clerk.run("seal", *samples, "--envelope", ENVELOPE, "--counted", "4", "--seal", "C-4712", *SEAL[2:])
    assert clerk.answer("show", ENVELOPE)["seal"] == "C-4712"


def test_samples_are_kept_given_and_taken_by_scan(settled: Town) -> None:
    """If this fails, a hand-over in a car park has to be typed number by number."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    for sample in samples:
        collect(settled, sample, INDOOR)
    inspector.run(
        "secure",
        "--how",
        "locked",
        "--where",
        "vehicle",
        "--place",
        "boot of the blue van",
        "--until",
        "14:40",
        "--zone",
        "UTC",
    )
    kept = last(settled, "inspector")
    assert data_of(kept) == {
        "secured": "locked",
        "where": "vehicle",
        "since": "2026-12-01T14:20:00+00:00",
        "until": "2026-12-01T14:40:00+00:00",
    }
    assert "blue van" not in str(data_of(kept))
    said = inspector.run("give", "--to", FIRM, "--purpose", "transport", typed="\n".join([*samples, "", ""]))
    statement = said.rsplit("Entry id: ", 1)[1].strip()
    settled.person("second").run("take", *samples, "--ref", statement, typed="intact\nlabel_unreadable\n")
    taken = last(settled, "second")
    assert signed_statement.read(taken.text).claims.refs == (statement,)
    items = data_of(taken)["items"]
    assert isinstance(items, list)
    assert [item["condition"] for item in items] == [["intact"], ["label_unreadable"]]
    form = inspector.answer("show")["forms"][0]["form"]
    assert {s["holder"] for s in inspector.answer("show", form)["samples"]} == {"Second Person"}


def test_a_void_sample_stays_visible(settled: Town) -> None:
    """If this fails, a dropped cassette disappears, and the count is wrong for ever."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    inspector.run("void", samples[0], "--reason", "dropped", "--note", "stairs")
    form = inspector.answer("show")["forms"][0]["form"]

    assert "void: dropped" in inspector.run("show", form)


def test_thresholds_are_set_from_a_file_and_shown_as_one(settled: Town) -> None:
    """If this fails, a firm cannot say by which rules its samples are judged."""
    root = settled.person("firm-root")
    file = settled.folder / "policy.toml"
    file.write_text("edition = 1\nmin_cassettes = 2\nflow_tolerance_pct = 4.5\noutdoor_gap_block = false\n")
    root.run("policy", str(file))
    said = root.run("policy")
    assert "\nflow_tolerance_pct = 4.5\n" in said
    assert "\nmin_cassettes = 2\n" in said
    assert "\n# min_indoor = 2\n" in said  # a default nobody stated
    assert root.answer("policy")["policy"]["outdoor_gap_block"] is False
    again = settled.folder / "again.toml"
    again.write_text(said)
    assert "in force already" in root.run("policy", str(again))
    file.write_text("min_casettes = 2\n")
    assert "min_casettes" in root.run("policy", str(file), code=2)
    assert len([each for each in root.outbox() if each["act"] == "policy_set"]) == 1


def test_a_calendar_with_a_slip_in_it_is_not_signed(settled: Town) -> None:
    """If this fails, a laboratory's holidays are signed into the log with a typing error in them."""
    root = settled.person("lab-root")
    before = len(root.outbox())
    file = settled.folder / "bad.toml"
    file.write_text('zone = "America/Chicgo"\nyears = [2026]\n[hours]\nmon = ["08:00-17:00"]\n')
    assert "America/Chicgo" in root.run("calendar", "lab", str(file), code=2)
    assert "which carrier" in root.run("calendar", "carrier", code=2)
    assert len(root.outbox()) == before
    assert root.answer("calendar", "lab")["zone"] == "America/Chicago"
    assert "has set no calendar office" in root.run("calendar", "office", code=1)


def test_a_lost_phone_is_revoked_and_its_later_words_are_not_taken(settled: Town) -> None:
    """If this fails, whoever finds a phone goes on signing."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    kid = inspector.answer("key", "show")["kid"]
    settled.person("firm-root").run(
        "revoke",
        kid,
        "--reason",
        "lost",
        "--last-good",
        "1",
        "--at",
        "2026-12-01 09:10",
        "--zone",
        "America/New_York",
    )
    assert "was revoked" in inspector.run(*OPEN, code=1)
    assert "was revoked" in inspector.run("show", code=1)
    assert len(inspector.outbox()) == 1


def test_what_was_said_with_a_lost_key_can_be_affirmed(settled: Town) -> None:
    """If this fails, one lost phone puts a whole honest week in doubt for ever."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    said = inspector.outbox()[0]
    form = said["chain"].removeprefix("form/")
    settled.person("second").run("affirm", form, said["statement"])

    assert data_of(last(settled, "second")) == {"statements": [said["statement"]]}


@pytest.mark.parametrize("spoilt", ["not json", "[]", '{"kid": "x"}'])
def test_a_file_that_is_no_request_is_not_enrolled(settled: Town, spoilt: str) -> None:
    """If this fails, an administrator enrolls whatever was attached to a message."""
    file = settled.folder / "request.json"
    file.write_text(spoilt)
    said = settled.person("firm-root").run(
        "enroll", str(file), "--role", "clerk", "--checked", "video", code=2
    )

    assert "is no enrollment request" in said


def test_a_request_for_another_organization_is_not_enrolled(settled: Town) -> None:
    """If this fails, a laboratory's new key ends up speaking for the firm."""
    person = settled.person("newcomer", LAB)
    person.join()
    request = settled.folder / "newcomer.json"
    person.run("key", "request", "-o", str(request))
    said = settled.person("firm-root").run(
        "enroll", str(request), "--role", "clerk", "--checked", "video", code=2
    )

    assert f"for {LAB}" in said


def test_a_key_nobody_proves_to_hold_is_refused(settled: Town) -> None:
    """If this fails, an administrator can enroll, by mistake or not, a key that belongs to somebody else."""
    person = settled.person("newcomer")
    person.join()
    request = settled.folder / "newcomer.json"
    person.run("key", "request", "-o", str(request))
    asked = json.loads(request.read_text())
    asked["proof"] = asked["proof"][:-4] + "AAAA"
    request.write_text(json.dumps(asked))
    said = settled.person("firm-root").run(
        "enroll", str(request), "--role", "clerk", "--checked", "video", code=1
    )

    assert "has not shown that it holds this key" in said


@pytest.mark.slow
@pytest.mark.parametrize("theirs", [True, False])
def test_who_enrolls_at_a_terminal_compares_the_key_first(settled: Town, theirs: bool) -> None:
    """A request that came by mail in somebody else's name would be signed with nothing to compare."""
    stranger = settled.person("stranger")
    stranger.join()
    request = settled.folder / "stranger.json"
    stranger.run("key", "request", "--person", "Stranger Danger", "-o", str(request))
    told = stranger.answer("key", "show")
    root = settled.person("firm-root")
    before = last(settled, "firm-root").seq
    words = ("enroll", str(request), "--role", "media_keeper", "--checked", "video")
    with served(settled), Terminal(root, *words) as screen:
        seen = screen.sees("[y/n]: ")
        screen.types("y\n" if theirs else "n\n")
        code, rest = screen.ends()

    assert "Stranger Danger asks to be media keeper" in seen
    assert all(line in seen for line in (told["kid"], *told["kid_lines"]))
    assert (code, last(settled, "firm-root").seq - before) == ((0, 1) if theirs else (1, 0))
    now_may = f"Stranger Danger ({told['kid'][:4]}…) may sign as media keeper."
    assert (now_may in " ".join(rest.split())) == theirs


def test_an_enrollment_says_whom_it_let_in(settled: Town) -> None:
    """Of four requests enrolled one after the other, nobody could tell from the screen who became what."""
    new = settled.person("newcomer")
    new.join()
    request = settled.folder / "newcomer.json"
    new.run("key", "request", "--person", "Nell Fenn", "-o", str(request))
    said = settled.person("firm-root").run("enroll", str(request), "--role", "clerk", "--checked", "video")

    assert f"; Nell Fenn ({new.answer('key', 'show')['kid'][:4]}…) may sign as clerk." in said


def test_the_pages_are_entered_with_a_link_that_no_server_logs(settled: Town) -> None:
    """If this fails, the token that speaks in somebody's name stands in every access log on the way."""
    link = settled.person("inspector").run("pages").strip()
    address, _, token = link.partition("#")

    assert address == "https://ledger.example/enter"
    browser = settled.app.test_client()
    assert browser.get("/forms", headers={"Authorization": f"Bearer {token}"}).status_code == 401
    entered = browser.post("/session", json={"token": token})
    assert (entered.status_code, entered.get_json()["organization"]) == (200, FIRM)
    assert browser.get(entered.get_json()["next"]).status_code == 200


def test_everything_can_be_looked_at(settled: Town) -> None:
    """If this fails, somebody with a number in their hand cannot find out what it is."""
    lot, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    form = inspector.answer("show")["forms"][0]["form"]

    assert "Perpetua Example" in inspector.run("show", form)
    assert "Chain of custody" in inspector.run("show", samples[0])
    assert "no collection entry is on record here" in inspector.run("show", samples[1])
    assert "42-0117" in inspector.run("show", lot)
    assert numbers.grouped(form) in inspector.run("show")
    assert "collected" in inspector.run("outbox")
    assert "envelope's number" in inspector.run("show", numbers.issue("seal", lambda _: "8"), code=2)
    assert "form or an envelope" in inspector.run("check", samples[0], code=2)
    assert "There is no envelope" in inspector.run("show", numbers.issue("envelope", lambda _: "8"), code=1)
    window = ("window", "--lab", LAB, "--carrier", "acorn-freight", "--zone", "America/New_York")
    assert inspector.answer(*window)["window"]["received"] == "2026-12-02T10:30:00-06:00"


def test_a_cassette_dropped_before_its_run_is_known_by_its_form(settled: Town) -> None:
    """It would be packed again for the next visit, and the form it was voided on be listed as one on which
    nothing was collected.
    """
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    assert "No form is on record here yet." in inspector.run("show")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    (line,) = inspector.answer("show")["forms"]
    inspector.run("void", samples[1], "--reason", "dropped", "--form", line["form"])
    (line,) = inspector.answer("show")["forms"]
    assert line["status"] == "collected"
    told = inspector.answer("show", samples[1])
    assert (told["form"], told["state"]["void"], told["lot"]["count"]) == (line["form"], "dropped", 2)
    assert "void: dropped" in inspector.run("show", samples[1])
    assert "NOT READY" in inspector.run("kit", samples[1], code=1)
    assert "not collected" in inspector.run("secure", samples[1], "--how", "view", "--where", "other", code=2)


def _flat(said: str) -> str:
    """What is on the screen, as one line."""
    return " ".join(said.split())
