"""Pen forms: printed before they are needed, entered once power is back."""

from __future__ import annotations

import pypdfium2

from bailee.domain import numbers
from town import OPEN, Town


def test_blank_pen_forms_have_each_a_new_number(settled: Town) -> None:
    """Two visits under one number are one visit for ever."""
    inspector, folder = settled.person("inspector"), settled.folder
    first = inspector.answer("paper", "--blank", "20", "-o", str(folder / "one.pdf"))["forms"]
    second = inspector.answer("paper", "--blank", "20", "-o", str(folder / "two.pdf"))["forms"]
    assert len({*first, *second}) == 40
    pages = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(folder / "one.pdf")]
    assert all(numbers.grouped(each) in pages[n] for n, each in enumerate(first))
    assert len(pages) == 20


def test_the_pen_form_of_a_visit_is_printed_page_by_page(settled: Town) -> None:
    """The seventh cassette would have no line, or two sheets one name."""
    inspector, file = settled.person("inspector"), settled.folder / "pen.pdf"
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    assert f"Pen form of {numbers.grouped(form)}" in inspector.run(
        "paper", form, "--pages", "2", "-o", str(file)
    )
    said = [page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(file)]
    assert ["page 1 of 2" in said[0], "page 2 of 2" in said[1]] == [True, True]
    for wrong in ((), (form, "--blank", "2"), ("--blank", "2", "--pages", "2")):
        inspector.run("paper", *wrong, "-o", str(file), code=2)
