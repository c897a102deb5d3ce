"""A monitor's mirror of a whole log, with operators who misbehave in every way that only a
whole log shows.
"""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest

from bailee.errors import BaileeError, Broken
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import Checkpoint
from bailee.signing import notes, signed_statement
from bailee.verify.log_audit import Audit
from bailee.verify.mirror import Mirror, Round
from builders import CLERK, INSPECTOR, ROOT, SECOND_INSPECTOR
from log_simulator import LogSimulator, seeded, told


def fetcher(log: LogSimulator) -> tuple[list[str], object]:
    """What a log gives at each path, and what was asked."""
    asked: list[str] = []

    def fetch(path: str) -> bytes:
        asked.append(path)
        _, index, width = merkle.read_tile_path(path)
        first = index * merkle.TILE_WIDTH
        return entries.pack(each.text.encode() for each in log.log[first : first + width])

    return asked, fetch


def follow(mirror: Mirror, log: LogSimulator, size: int | None = None) -> Round:
    """One round against a log that shows its first `size` entries."""
    _, fetch = fetcher(log)
    return mirror.round(log.note(size), fetch)  # type: ignore[arg-type]


def mirror_of(log: LogSimulator, folder: Path) -> Mirror:
    """A new process with that folder."""
    return Mirror(folder, log.log_vkey)


def test_an_honest_log_is_copied_and_in_order(tmp_path: Path) -> None:
    """A monitor that cries wolf at an honest laboratory is switched off."""
    log = told()
    size = len(log.log)
    mirror = mirror_of(log, tmp_path)
    first = follow(mirror, log, size - 5)
    rest = follow(mirror, log)
    assert (first.new, rest.new, rest.troubles) == (size - 5, 5, ())
    kept = (tmp_path / merkle.tile_path(None, 0, size)).read_bytes()
    assert [each.decode() for each in entries.unpack(kept)] == [each.text for each in log.log]
    assert (tmp_path / "checkpoint").read_text() == log.note()
    assert follow(mirror, log).new == 0


@pytest.mark.slow
def test_a_mirror_grows_over_the_border_of_a_tile(tmp_path: Path) -> None:
    """A monitor that loses its place at every 256th entry would accuse every busy log (C2SP tlog-tiles: 256
    wide).
    """
    log = told()
    while len(log.log) < 260:
        log.append(f"form/{log.form}", say(log, after=None))
    mirror = mirror_of(log, tmp_path)
    for size in (250, 255, 256, 257, 260):
        done = follow(mirror, log, size)
        assert (done.checkpoint.size, done.troubles) == (size, ())
    assert follow(mirror_of(log, tmp_path), log).new == 0
    kept = sorted(str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file())
    assert kept == ["checkpoint", "tile/entries/000", "tile/entries/001.p/4"]


def test_only_what_is_new_is_fetched(tmp_path: Path) -> None:
    """A monitor that copies the whole log every minute would be asked to stop."""
    log = told()
    mirror = mirror_of(log, tmp_path)
    follow(mirror, log)
    asked, fetch = fetcher(log)
    mirror.round(log.note(), fetch)  # type: ignore[arg-type]
    assert asked == []


def test_a_restarted_monitor_goes_on(tmp_path: Path) -> None:
    """After a reboot the monitor must still remember what it was shown."""
    log = told()
    follow(mirror_of(log, tmp_path), log, 8)
    done = follow(mirror_of(log, tmp_path), log)
    assert (done.new, done.troubles) == (len(log.log) - 8, ())


def test_a_mirror_that_was_altered_says_so(tmp_path: Path) -> None:
    """Whoever can write in the mirror must not be able to make the log look wrong, or the mirror right."""
    log = told()
    follow(mirror_of(log, tmp_path), log, 8)
    path = tmp_path / merkle.tile_path(None, 0, 8)
    path.write_bytes(path.read_bytes().replace(b'"n":2', b'"n":3', 1))
    with pytest.raises(Broken, match="does not verify"):
        follow(mirror_of(log, tmp_path), log)


def test_a_log_that_takes_entries_back_is_caught(tmp_path: Path) -> None:
    """Cutting off the newest entries leaves a log in which nothing is missing; only who saw them knows."""
    log = told()
    mirror = mirror_of(log, tmp_path)
    follow(mirror, log)
    with pytest.raises(Broken) as caught:
        follow(mirror, log, len(log.log) - 3)
    assert caught.value.code == "rolled-back"
    kept = {path.read_text() for path in (tmp_path / "evidence").iterdir()}
    assert kept == {log.note(), log.note(len(log.log) - 3)}  # two signed checkpoints: anybody can check them
    assert (tmp_path / "checkpoint").read_text() == log.note()


@pytest.mark.parametrize("later", [0, 4])
def test_a_log_with_two_histories_is_caught(tmp_path: Path, later: int) -> None:
    """An entry changed after the fact, the tree built anew: each copy is sound in itself."""
    log = told()
    size = len(log.log)
    mirror = mirror_of(log, tmp_path)
    follow(mirror, log, size - later)
    before = (tmp_path / "checkpoint").read_text()
    log.rewrite(size - 6, log.log[size - 6].text.replace('.000Z"', '.001Z"'))
    with pytest.raises(Broken) as caught:
        follow(mirror, log)
    assert caught.value.code == "forked"
    kept = {path.read_bytes() for path in (tmp_path / "evidence").iterdir()}
    assert {log.note().encode(), before.encode()} <= kept
    assert (tmp_path / "checkpoint").read_text() == before
    with pytest.raises(Broken):  # and the next round is no milder
        follow(mirror_of(log, tmp_path), log)


def test_entries_that_are_not_under_the_checkpoint_are_not_taken(tmp_path: Path) -> None:
    """A log could show monitors other entries than it proves to auditors."""
    log = told()
    shown = told()
    shown.log[5] = replace(shown.log[5], text=shown.log[5].text.replace('.000Z"', '.001Z"'))
    _, fetch = fetcher(shown)
    mirror = mirror_of(log, tmp_path)
    with pytest.raises(Broken) as caught:
        mirror.round(log.note(), fetch)  # type: ignore[arg-type]
    assert caught.value.code == "root"
    assert not (tmp_path / "checkpoint").exists()
    assert any(path.name.startswith("entries-0-") for path in (tmp_path / "evidence").iterdir())
    assert follow(mirror, log).troubles == ()  # nothing of it stuck


@pytest.mark.parametrize("data", [b"", b"\x00\x05ab", entries.pack([b"one"])])
def test_a_tile_that_is_none_is_refused(tmp_path: Path, data: bytes) -> None:
    """Half an answer over a bad line must not be taken for a log with a hole."""
    log = told()
    with pytest.raises(BaileeError):
        mirror_of(log, tmp_path).round(log.note(), lambda _: data)
    assert not (tmp_path / "checkpoint").exists()


def test_the_checkpoint_of_another_log_is_refused(tmp_path: Path) -> None:
    """A monitor must not follow whoever answers at the address."""
    log = told()
    stranger = notes.sign(Checkpoint(log.origin, 1, bytes(32)), seeded("stranger"))
    with pytest.raises(Broken):
        mirror_of(log, tmp_path).round(stranger, lambda _: b"")


def troubles(log: LogSimulator) -> list[str]:
    """What an audit of the whole log says."""
    audit = Audit(log.origin)
    return [said for each in log.log for said in audit.read(each.text, each.disclosures)]


def say(log: LogSimulator, chain: str | None = None, **how: object) -> str:
    """One more signed statement on the form, which is not logged yet."""
    chain = chain or f"form/{log.form}"
    data = {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"}
    return log.signed(INSPECTOR, chain, "held", data, said="2026-12-01T09:40:00-05:00", **how)  # type: ignore[arg-type]


def test_an_honest_log_has_no_trouble() -> None:
    """Every other test here would prove nothing."""
    assert troubles(told()) == []


def test_a_second_entry_with_one_number() -> None:
    """Duplicate n: two versions of one step, so that each side can be shown its own."""
    log = told()
    chain = f"form/{log.form}"
    log.append(chain, say(log), n=3, prev=log.log[log.find(chain, 2)].leaf)
    assert any("does not go on from its entry" in said for said in troubles(log))


def test_a_removed_entry() -> None:
    """An entry taken out of the middle, everything after it chained anew: what later devices had seen is not
    here.
    """
    log = told()
    chain = f"form/{log.form}"
    log.remove(log.find(chain, 3))
    log.rechain(log.find(chain, 2))
    assert any("is not here: an entry is missing here" in said for said in troubles(log))


def test_a_state_of_the_log_that_never_was(monkeypatch: pytest.MonkeyPatch) -> None:
    """A phone was shown another history: its next statement gives that away to everybody who
    mirrors the log.
    """
    log = told()
    log.append(f"form/{log.form}", say(log))
    assert troubles(log) == []
    seen = log.seen()
    assert seen
    monkeypatch.setattr(log, "seen", lambda: replace(seen, root="A" * 43))
    log.append(f"form/{log.form}", say(log))
    assert any("in a state that it never had" in said for said in troubles(log))


def test_one_counter_used_twice() -> None:
    """A copied phone: two statements with one counter, both signed by its key."""
    log = told()
    device = log.device(INSPECTOR)
    seq, prev = device.seq, device.prev
    log.append(f"form/{log.form}", say(log))
    device.seq, device.prev = seq, prev
    log.append(f"form/{log.form}", say(log, after=None))
    assert any("twice" in said for said in troubles(log))


def test_a_device_that_does_not_name_its_last_statement() -> None:
    """A phone restored from a backup continues from somewhere else."""
    log = told()
    log.device(INSPECTOR).prev = "A" * 43
    log.append(f"form/{log.form}", say(log))
    assert any("did not refer to its entry" in said for said in troubles(log))


def test_late_statements_of_a_device_are_no_trouble() -> None:
    """The basement case: number 18 arrives before number 17, and that is nobody's fault."""
    log = told()
    early, late = say(log), say(log)
    log.append(f"form/{log.form}", late)
    assert troubles(log) == []
    log.append(f"form/{log.form}", early)
    assert troubles(log) == []


def test_late_statements_that_do_not_fit_are_trouble() -> None:
    """Arriving late must not excuse a statement from naming the one before."""
    log = told()
    device = log.device(INSPECTOR)
    early = say(log)
    device.prev = "B" * 43
    log.append(f"form/{log.form}", say(log))
    log.append(f"form/{log.form}", early)
    assert any("did not refer to its entry" in said for said in troubles(log))


def test_a_statement_nobody_signed() -> None:
    """An operator invents a hand-over."""
    log = told()
    text = say(log)
    log.append(f"form/{log.form}", text[:-86] + b64u(bytes(range(64))))
    assert any("signature" in said for said in troubles(log))


def test_a_statement_by_a_key_nobody_enrolled() -> None:
    """An operator invents a person."""
    log = told()
    unknown = replace(CLERK, name="Nobody Enrolled")
    text = log.signed(
        unknown,
        f"form/{log.form}",
        "held",
        {"secured": "locked", "where": "vehicle", "since": "2026-12-01T09:30:00-05:00"},
        said="2026-12-01T09:40:00-05:00",
    )
    log.append(f"form/{log.form}", text)
    assert any("was not enrolled" in said for said in troubles(log))


def test_a_statement_for_another_log() -> None:
    """What was signed on the test ledger is played into the real one."""
    log = told()
    other = LogSimulator(origin="ledger.example/other")
    device = other.device(INSPECTOR)
    device.seq, device.prev = log.device(INSPECTOR).seq, log.device(INSPECTOR).prev
    log.append(f"form/{log.form}", say(other, chain=f"form/{log.form}", after=None))
    assert any("ledger.example/other" in said for said in troubles(log))


def test_an_enrollment_by_somebody_who_may_not() -> None:
    """An inspector enrolls a friend's phone, and an operator lets it through."""
    log = told()
    entry = log.log[log.find(f"org/{ROOT.org}", 2)].entry
    data = dict(signed_statement.read(entry.stmt).claims.data)
    rogue = log.signed(
        SECOND_INSPECTOR, f"org/{ROOT.org}", "enrolled", data, said="2026-12-01T09:40:00-05:00"
    )
    log.append(f"org/{ROOT.org}", rogue)
    assert any("may not" in said or "inspector" in said for said in troubles(log))


def test_the_audit_s_root_is_that_of_the_definition() -> None:
    """A monitor with another idea of the tree would accuse every log (RFC 9162
    2.1.1, defined recursively).
    """

    def mth(leaves: list[bytes]) -> bytes:
        if len(leaves) == 1:
            return sha256(b"\x00" + leaves[0]).digest()
        k = 1 << ((len(leaves) - 1).bit_length() - 1)
        return sha256(b"\x01" + mth(leaves[:k]) + mth(leaves[k:])).digest()

    log = told()
    audit = Audit(log.origin)
    for each in log.log:
        assert list(audit.read(each.text)) == []
    texts = [each.text.encode() for each in log.log]
    for size in range(1, len(texts) + 1):
        assert audit.root(size) == mth(texts[:size])
