"""What a second copy of a key leaves behind is told to its organization, with what to do."""

from __future__ import annotations

import shutil

from town import OPEN, Town


def test_a_device_that_was_set_back_is_told_to_its_organization_alone(settled: Town) -> None:
    """If this fails, a key works in two hands for months, and only the dock's auditor ever hears of it."""
    inspector, clerk = settled.person("inspector"), settled.person("clerk")
    assert clerk.run("contradictions") == "No entry of your organization's keys contradicts another.\n"
    older = settled.folder / "older"
    shutil.copytree(inspector.folder, older)
    inspector.run(*OPEN)
    shutil.rmtree(inspector.folder)
    shutil.copytree(older, inspector.folder)
    settled.clock.advance(minutes=30)
    inspector.run(*OPEN, code=1)

    said = clerk.run("contradictions", code=1)
    (told,) = clerk.answer("contradictions", code=1)["contradictions"]
    assert "1 contradiction.\n" in said
    assert "Inspector Person, number 1 of that key: opened, form F" in said
    assert f"`bailee revoke {told['kid']}`" in " ".join(said.split())
    assert told["after_end"] is False
    assert settled.person("dock").answer("contradictions") == {"contradictions": []}
