"""What is printed, as the service gives it: read back by an independent decoder."""

from __future__ import annotations

import io
import re
from datetime import UTC

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.presentation import words
from field import Field, Visited
from grounds import on_any

pytestmark = on_any


def codes(image: Image.Image) -> set[str]:
    """The QR codes that an independent decoder reads in a picture (zxing-cpp)."""
    return {found.text for found in zxingcpp.read_barcodes(image, formats=zxingcpp.BarcodeFormat.QRCode)}


def drawn_for(image: Image.Image, dpi: int, millimeters: tuple[float, float]) -> bool:
    """Whether a picture has the dots that such a printer puts on a label of that size, and says so (an inch
    is 25.4 mm).
    """
    dots = tuple(round(side / 25.4 * dpi) for side in millimeters)
    return image.size == dots and image.info["dpi"] == pytest.approx((dpi, dpi), abs=0.05)


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_a_sample_label_is_drawn_for_the_printer_that_was_named(field: Field, dpi: int) -> None:
    """A label drawn for another printer comes out at two thirds of its size.

    What cannot be scanned is typed by hand.
    """
    _, samples = field.lot(1)
    answer = field.get("keeper", f"/samples/{samples[0]}/label.png?dpi={dpi}")
    assert answer.content_type == "image/png"
    image = Image.open(io.BytesIO(answer.data))
    assert drawn_for(image, dpi, (50, 25))
    assert codes(image) == {f"HTTPS://LEDGER.EXAMPLE/S/{samples[0]}"}


def test_a_printer_nobody_has_is_refused(field: Field) -> None:
    """A label at part dots blurs; better no label."""
    _, samples = field.lot(1)
    assert field.get("keeper", f"/samples/{samples[0]}/label.png?dpi=204").status_code == 422


@pytest.mark.slow
def test_a_sheet_holds_every_number_of_the_lot(field: Field) -> None:
    """A number missing from the sheet is a cassette without a label."""
    lot, samples = field.lot(7)
    answer = field.get("keeper", f"/lots/{lot}/labels.pdf?layout=a4-24&skip=3")
    page = pypdfium2.PdfDocument(answer.data)[0].render(scale=300 / 72).to_pil()
    assert codes(page) == {f"HTTPS://LEDGER.EXAMPLE/S/{sample}" for sample in samples}


def test_a_roll_has_a_page_for_each_number_in_the_order_of_issue(field: Field) -> None:
    """Labels in another order are stuck on other cassettes than the list shows."""
    lot, samples = field.lot(3)
    answer = field.get("keeper", f"/lots/{lot}/labels.pdf?layout=roll&size=57.5x32&shift=0.5,-0.5&dpi=300")
    document = pypdfium2.PdfDocument(answer.data)
    read = [codes(page.render(scale=300 / 72).to_pil()) for page in document]
    assert read == [{f"HTTPS://LEDGER.EXAMPLE/S/{sample}"} for sample in samples]
    one = pypdfium2.PdfDocument(field.get("keeper", f"/samples/{samples[0]}/label.pdf?size=57.5x32").data)
    for page in (document[0], one[0]):
        measured = [side / 72 * 25.4 for side in page.get_size()]
        assert measured == [pytest.approx(57.5, abs=0.1), pytest.approx(32, abs=0.1)]
    drawn = field.get("keeper", f"/samples/{samples[0]}/label.png?size=57.5x32&dpi=203")
    assert drawn_for(Image.open(io.BytesIO(drawn.data)), 203, (57.5, 32))


def test_labels_of_impossible_sizes_are_refused(visited: Visited) -> None:
    """Print cut at the edge of a label is read as another number."""
    field, (_, envelope, samples, _) = visited
    for path, code in (
        (f"/samples/{samples[0]}/label.pdf?size=30x15", "label-size"),
        (f"/samples/{samples[0]}/label.png?size=30x15", "label-size"),
        (f"/samples/{samples[0]}/label.svg?size=30x15", "label-size"),
        (f"/samples/{samples[0]}/label.pdf?shift=9,0", "label-shift"),
        (f"/envelopes/{envelope}/label.pdf?size=38x19", "label-size"),
        ("/labels/test.pdf?layout=roll&size=30x15", "label-size"),
    ):
        answer = field.get("clerk", path)
        assert (answer.status_code, answer.get_json()["code"]) == (422, code), path


@pytest.mark.parametrize("layout", ["letter-30", "a4-24", "letter-70", "a4-75", "roll"])
def test_the_test_page_has_the_size_of_its_paper(field: Field, layout: str) -> None:
    """A printer is set by a page of another size, and every sheet after it is off."""
    page = pypdfium2.PdfDocument(field.get("keeper", f"/labels/test.pdf?layout={layout}").data)[0]
    named = "50 x 25 mm. " if layout == "roll" else f"{layout}: "
    assert named in page.get_textpage().get_text_range()
    paper, _, _ = layout.partition("-")
    size = {"letter": (215.9, 279.4), "a4": (210, 297), "roll": (50, 25)}[paper]
    assert [side / 72 * 25.4 for side in page.get_size()] == pytest.approx(size, abs=0.1)


def test_the_envelope_label_names_no_person_and_no_address(visited: Visited) -> None:
    """What is outside on the envelope is read by everybody on the way."""
    field, (form, envelope, _, seal) = visited
    answer = field.get("clerk", f"/envelopes/{envelope}/label.pdf")
    document = pypdfium2.PdfDocument(answer.data)
    text = document[0].get_textpage().get_text_range()
    assert envelope[:4] in text
    assert seal in text.replace(" ", "") or seal[:4] in text
    assert re.search(r"Sealed \d{4}-\d\d-\d\d \d\d:\d\d \([+-]\d\d:\d\d\)", text), "on whose clock?"
    for private in ("Perpetua", "Invented", "Person", form):
        assert private not in text
    assert f"HTTPS://LEDGER.EXAMPLE/E/{envelope}" in codes(document[0].render(scale=300 / 72).to_pil())


def test_the_envelope_label_counts_a_tape_lift_as_what_it_is(field: Field) -> None:
    """A dock that reads four cassettes and finds three reports one as missing."""
    lot, samples = field.lot(3)
    form, tape = field.open_form(), field.number("sample")
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    taken = {
        "sample": tape, "medium": "tape", "at": Moment(field.clock().astimezone(UTC), -300).text(),
        "room": "kitchen", "material": "drywall", "area_cm2": "4", "label_on": "body",
    }  # fmt: skip
    field.act("inspector", f"form/{form}", "surface_collected", taken, {"place": "behind the stove"})
    field.hand_to_clerk(form, [*samples, tape])
    envelope = field.number("envelope")
    field.seal(envelope, [*samples, tape], field.number("seal"))
    page = pypdfium2.PdfDocument(field.get("clerk", f"/envelopes/{envelope}/label.pdf").data)[0]
    assert "3 cassettes and 1 tape lift" in page.get_textpage().get_text_range()


@pytest.mark.parametrize(("containers", "said"), [(None, "3 cassettes"), (2, "3 cassettes, 2 containers")])
def test_the_envelope_label_counts_containers_only_where_somebody_did(
    field: Field, containers: int | None, said: str
) -> None:
    """A dock that reads a count which nobody made looks for a bag that never was."""
    lot, samples = field.lot(3)
    form = field.open_form()
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    envelope, seal = field.number("envelope"), field.number("seal")
    field.seal(envelope, samples, seal, containers=containers)
    page = pypdfium2.PdfDocument(field.get("clerk", f"/envelopes/{envelope}/label.pdf").data)[0]
    lines = page.get_textpage().get_text_range().splitlines()
    assert [line for line in lines if "cassette" in line] == [said]
    assert f"Seal {seal}" in lines


def test_labels_of_a_demonstration_say_so(visited: Visited, monkeypatch: pytest.MonkeyPatch) -> None:
    """One of them could be stuck on a true cassette or a true envelope."""
    field, (form, envelope, samples, _) = visited

    def said(path: str) -> str:
        page = pypdfium2.PdfDocument(field.get("clerk", path).data)[0]
        return str(page.get_textpage().get_text_range())

    paths = (f"/envelopes/{envelope}/label.pdf", f"/samples/{samples[0]}/label.pdf")
    assert not [path for path in paths if "demo" in said(path).lower()]
    assert grouped(form) in said(paths[0]), "the form that lies in it"
    monkeypatch.setattr(words, "demo", lambda _: words.DEMO)
    outside, cassette = map(said, paths)
    assert "Demo keys - not evidence" in outside
    assert ", demo" in cassette


@pytest.mark.parametrize("dpi", [203, 300, 600])
def test_an_envelopes_label_is_drawn_for_the_printer_that_was_named(visited: Visited, dpi: int) -> None:
    """The dock's scanner would meet a symbol of part dots, or one it knows from a carrier."""
    field, (_, envelope, _, _) = visited
    answer = field.get("clerk", f"/envelopes/{envelope}/label.png?dpi={dpi}")
    image = Image.open(io.BytesIO(answer.data))
    assert drawn_for(image, dpi, (100, 60))
    assert codes(image) == {f"HTTPS://LEDGER.EXAMPLE/E/{envelope}"}


def test_of_two_papers_asked_for_at_once_none_is_drawn(visited: Visited) -> None:
    """An analyst who was to get the blind copy would get it all, or a record be enclosed without its seal."""
    field, (form, envelope, _, seal) = visited
    for query in (
        f"blind=true&envelope={envelope}&seal={seal}",
        "blind=true&report=true",
        "containers=2&report=true",
        f"seal={seal}",
        f"envelope={envelope}",
        "containers=2",
    ):
        answer = field.get("clerk", f"/forms/{form}/record.pdf?{query}")
        assert (answer.status_code, answer.content_type) == (422, "application/problem+json"), query
    for query, name in (("blind=true", "blind-copy"), ("report=true", "for-report")):
        answer = field.get("dock", f"/forms/{form}/record.pdf?{query}")
        assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}-{form}.pdf"'


def enclosed(field: Field, form: str, envelope: str, seal: str) -> tuple[int, str, str]:
    """The answer to the clerk who asks for the record to enclose: status, code and sentence."""
    answer = field.get("clerk", f"/forms/{form}/record.pdf?envelope={envelope}&seal={seal}")
    told = answer.get_json(silent=True) or {}
    return answer.status_code, told.get("code", ""), told.get("detail", "")


def waiting(field: Field) -> tuple[str, list[str]]:
    """A visit whose cassettes are with the clerk."""
    lot, samples = field.lot(2)
    form = field.open_form()
    for sample, kind in zip(samples, ("indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    return form, samples


def test_no_record_is_printed_for_an_envelope_or_a_seal_of_another_form(visited: Visited) -> None:
    """The clerk scans the envelope beside it, and the paper names one that lies at the laboratory."""
    field, (_, received, _, used) = visited
    form, _ = waiting(field)
    envelope = field.number("envelope")
    status, code, said = enclosed(field, form, received, "HF-9")
    assert (status, code) == (409, "received-already")
    assert "Read the label of the envelope in your hand again, or give it a new number." in said
    status, code, said = enclosed(field, form, envelope, used)
    assert (status, code) == (409, "seal-used")
    assert grouped(received) in said
    assert "take another seal" in said
    assert enclosed(field, form, envelope, "HF-9")[0] == 200


def test_an_envelope_that_another_form_closed_is_free_again_once_it_was_opened(field: Field) -> None:
    """Cassettes of a second visit are to go into the envelope that was opened for them, and no record is
    printed.
    """
    other, samples = waiting(field)
    form, _ = waiting(field)
    envelope = field.number("envelope")
    field.seal(envelope, samples, "HF-8")
    assert enclosed(field, form, envelope, "HF-9")[:2] == (409, "sealed-already")
    at = Moment(field.clock().astimezone(UTC), -300).text()
    opened = {"envelope": envelope, "seal": "HF-8", "at": at, "reason": "add_sample"}
    field.act("clerk", f"form/{other}", "unsealed", opened)
    assert enclosed(field, form, envelope, "HF-9")[0] == 200


def test_a_seal_whose_number_was_corrected_is_free_for_its_own_envelope(field: Field) -> None:
    """One digit misread at the first envelope keeps the record out of the second."""
    other, samples = waiting(field)
    form, _ = waiting(field)
    field.seal(field.number("envelope"), samples, "HF-9")
    clerk = field.people["clerk"]
    assert enclosed(field, form, field.number("envelope"), "HF-9")[:2] == (409, "seal-used")
    wrong = {"statement": clerk.prev, "field": "seal", "old": "HF-9", "new": "HF-8", "reason": "misread"}
    field.act("clerk", f"form/{other}", "corrected", wrong)
    assert enclosed(field, form, field.number("envelope"), "HF-9")[0] == 200


def test_the_custody_record_comes_as_a_file(visited: Visited) -> None:
    """The paper must be ready to print when the envelope is."""
    field, (form, _, samples, _) = visited
    answer = field.get("clerk", f"/forms/{form}/record.pdf")
    assert answer.headers["Content-Disposition"] == f'attachment; filename="custody-record-{form}.pdf"'
    document = pypdfium2.PdfDocument(answer.data)
    text = "".join(page.get_textpage().get_text_range() for page in document)
    assert all(sample[:4] in text for sample in samples)


def test_moments_in_an_envelopes_answer_are_text(visited: Visited) -> None:
    """A program that reads the hand-over must find a time, not the inside of ours."""
    field, (_, envelope, _, _) = visited
    told = field.get("clerk", f"/envelopes/{envelope}").get_json()
    assert told["shipped"]["handed_over"].endswith("-05:00")
    assert told["received"]["at"].endswith("-06:00")
    assert told["received"]["dock"]["delivered"].endswith("-06:00")


@pytest.mark.slow
def test_a_pen_form_names_the_lot_that_its_inspector_carries(field: Field) -> None:
    """The lot of a box that lies in the office would be printed as that of the kit."""

    def known() -> list[bool]:
        answer = field.get("inspector", f"/forms/{form}/pen-form.pdf")
        read = pypdfium2.PdfDocument(answer.data)[0].get_textpage().get_text_range()
        return [day in read for day in ("2027-03-31", "2028-01-31")]

    form = field.open_form()
    assert known() == [False, False]
    lot, (one,) = field.lot(1)
    assert known() == [True, False], "issued, to nobody by name"
    other, _ = field.lot(1, expiry="2028-01-31")
    mine = {
        "samples": [field.number("sample")],
        "to": field.people["inspector"].key.kid,
        "visit": "2026-12-01",
    }
    field.act("keeper", f"lot/{other}", "issued", mine)
    assert known() == [False, True], "issued to this inspector"
    field.collect(form, other, mine["samples"][0])
    assert known() == [True, True], "nothing of it is left to carry"
    field.collect(form, lot, one)
    assert known() == [False, True]


@pytest.mark.slow
def test_a_pen_form_is_of_its_visit_and_blank_ones_of_none(field: Field) -> None:
    """In a power cut the sheet of the visit would be another one's, or not say which laboratory."""
    form = field.open_form()
    answer = field.get("inspector", f"/forms/{form}/pen-form.pdf?pages=2")
    document = pypdfium2.PdfDocument(answer.data)
    assert [codes(page.render(scale=300 / 72).to_pil()) for page in document] == [
        {f"HTTPS://LEDGER.EXAMPLE/F/{form}"}
    ] * 4, "front and back of two pages"
    assert "Quill Lab (quill-lab)" in document[2].get_textpage().get_text_range()
    assert "42-0117" not in document[0].get_textpage().get_text_range()
    new = [field.number("form") for _ in range(3)]
    answer = field.get("inspector", f"/pen-forms.pdf?forms={','.join(new)}")
    read = [codes(page.render(scale=300 / 72).to_pil()) for page in pypdfium2.PdfDocument(answer.data)]
    assert read == [{f"HTTPS://LEDGER.EXAMPLE/F/{each}"} for each in new for _ in range(2)]
    assert field.get("inspector", f"/pen-forms.pdf?forms={new[0]},{new[1][:-1]}0").status_code == 422
