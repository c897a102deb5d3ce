"""`bailee verify`: exit codes, no network, nothing heavy loaded, every trust anchor from outside."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

from bailee.ledger import entry as entries
from bailee.ledger.checkpoint import format_vkey
from bailee.ledger.fingerprint import fingerprint
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from town import INTACT, Town, dock, verify_words


@pytest.fixture
def exported(shipped: tuple[Town, list[str]], tmp_path: Path) -> tuple[Path, list[str], Town]:
    """The auditor's file of a whole visit, and what an auditor brings."""
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    file = tmp_path / "bundle.json"
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    town.person("inspector").run("bundle", form, "-o", str(file))
    return file, verify_words(town), town


def test_a_whole_file_ends_with_0(exported: tuple[Path, list[str], Town]) -> None:
    """If this fails, honest records look broken to the other side's expert."""
    file, trust, town = exported
    town.line.weather = "down"
    said = town.person("auditor").run("verify", str(file), *trust, "--at", "2026-12-02 18:00")

    assert "Records: unaltered, not cosigned" in said
    assert "NOT CHECKED" in said


def test_who_brings_nothing_is_told_whose_keys_to_get(exported: tuple[Path, list[str], Town]) -> None:
    """If this fails, the first thing an auditor reads is the name of an option, and not whom to
    ask for what.
    """
    file, trust, town = exported
    auditor = town.person("auditor")
    nothing = " ".join(auditor.run("verify", str(file), code=2).split())
    assert "Bring the root key of each organization" in nothing
    for org in ("harrow-field", "quill-lab"):
        assert f"--root {org}=KEY" in nothing
    assert "the public key of the log" in nothing
    roots = [word for at, word in enumerate(trust) if word == "--root" or trust[at - 1] == "--root"]
    half = " ".join(auditor.run("verify", str(file), *roots, code=2).split())
    assert half.startswith("Bring the public key of the log")


def test_statements_are_written_out_for_other_tools(
    exported: tuple[Path, list[str], Town], tmp_path: Path
) -> None:
    """If this fails, nobody can check a signature but by this program."""
    file, trust, town = exported
    folder = tmp_path / "parts"
    town.person("auditor").run(
        "verify", str(file), *trust, "--statements", str(folder), "--at", "2026-12-02 18:00"
    )
    told = json.loads(file.read_text())["entries"]
    for kind in ("txt", "sig", "pem"):
        assert {path.stem for path in folder.glob(f"*.{kind}")} == {str(each["index"]) for each in told}
    (tmp_path / "taken").write_text("a file, not a folder")
    said = town.person("auditor").run(
        "verify", str(file), *trust, "--statements", str(tmp_path / "taken"), code=2
    )
    assert "taken" in said


def test_a_policy_that_an_editor_marked_is_read(
    exported: tuple[Path, list[str], Town], tmp_path: Path
) -> None:
    """If this fails, a right line of a policy is called wrong because of three bytes nobody can see."""
    file, trust, town = exported
    at = trust.index("--log-key")
    policy = tmp_path / "policy.txt"
    policy.write_bytes(b"\xef\xbb\xbf" + f"log {trust[at + 1]}\n".encode())
    roots = [*trust[:at], *trust[at + 2 :]]
    town.person("auditor").run(
        "verify", str(file), *roots, "--policy", str(policy), "--at", "2026-12-02 18:00"
    )


def test_a_file_may_come_through_a_pipe(exported: tuple[Path, list[str], Town]) -> None:
    """If this fails, a file that arrives packed must be unpacked onto a disk that others can read."""
    file, trust, town = exported
    words = (*trust, "--at", "2026-12-02 18:00")
    auditor = town.person("auditor")
    assert auditor.run("verify", "-", *words, typed=file.read_text()) == auditor.run(
        "verify", str(file), *words
    )


def test_an_altered_file_ends_with_1(exported: tuple[Path, list[str], Town]) -> None:
    """If this fails, one changed character in a time goes unseen."""
    file, trust, town = exported
    told = json.loads(file.read_text())
    entry = told["entries"][-1]["entry"]
    told["entries"][-1]["entry"] = entry.replace('"rec":"2026', '"rec":"2027')
    file.write_text(json.dumps(told))

    assert town.person("auditor").answer("verify", str(file), *trust, code=1)["state"] == "broken"


def test_a_flag_ends_with_1_though_the_records_are_whole(
    shipped: tuple[Town, list[str]], tmp_path: Path
) -> None:
    """If this fails, a script takes an envelope with a broken seal for one in order."""
    town, samples = shipped
    dock(town, *samples[:3], "--seal", "C-4711", "--seal-state", "broken", "--counted", "3", "--all-intact")
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    file = tmp_path / "bundle.json"
    town.person("inspector").run("bundle", form, "-o", str(file))
    told = town.person("auditor").answer(
        "verify", str(file), *verify_words(town), "--at", "2026-12-02 18:00", code=1
    )

    assert told["state"] == "intact, not cosigned"
    assert any(f["severity"] == "flag" for f in told["findings"])


def test_another_root_key_is_said_first_and_ends_with_3(exported: tuple[Path, list[str], Town]) -> None:
    """If this fails, one wrong letter in a root accuses honest people of forgery, or a stranger's
    organization of that name is believed.
    """
    file, trust, town = exported
    at = trust.index("--root") + 1
    organization, _, root = trust[at].partition("=")
    other = ("B" if root[0] != "B" else "C") + root[1:]
    words = (*trust[:at], f"{organization}={other}", *trust[at + 1 :])
    said = town.person("auditor").run("verify", str(file), *words, code=3)

    assert said.split("\n")[1] == "Records: not under your keys"
    assert said.split("\n")[2].startswith(f"  {organization} was founded here with the key {root}")
    assert "differ in character 1 alone: most likely it was mistyped" in " ".join(said.split())
    assert "broken" not in said.partition("FINDINGS")[0].partition("WHAT NO FILE")[0].lower()


def test_another_log_key_is_said_first_and_ends_with_3(exported: tuple[Path, list[str], Town]) -> None:
    """If this fails, the key of a log that was given anew reads as forgery, or anybody's log is believed."""
    file, trust, town = exported
    other = format_vkey(notes.verifier_key(town.ledger.settings.origin, SigningKey.generate()))
    told = town.person("auditor").answer("verify", str(file), *trust[:-1], other, code=3)

    assert (told["state"], told["faults"]) == ("not under your keys", [])
    assert [each["code"] for each in told["other_keys"]] == ["other-log-key"]


def test_the_five_lines_that_are_shown_are_what_an_auditor_types(
    exported: tuple[Path, list[str], Town],
) -> None:
    """If this fails, what `key show` and the record print cannot be typed, or a slip in it is not told with
    its line.
    """
    file, _, town = exported
    words, wrong = [], []
    for name, org in (("firm-root", "harrow-field"), ("lab-root", "quill-lab")):
        lines = town.person(name).answer("key", "show")["kid_lines"]
        words += ["--root", f"{org}={' '.join(lines)}"]
    log = town.person("inspector").answer("key", "show")["log_key_lines"]
    words += ["--log-key", f"{town.ledger.settings.origin}={' '.join(log)}", "--at", "2026-12-02 18:00"]
    auditor = town.person("auditor")
    assert "Records: unaltered, not cosigned" in auditor.run("verify", str(file), *words)
    slip = f"{lines[1][:2]}{'X' if lines[1][2] != 'X' else 'Y'}{lines[1][3:]}"
    wrong = [*words[:3], f"quill-lab={' '.join([lines[0], slip, *lines[2:]])}", *words[4:]]
    said = " ".join(auditor.run("verify", str(file), *wrong, code=2).split())
    assert said.startswith("quill-lab: Line 2 of the five lines of the key")
    shown = town.person("lab-root").run("key", "show")
    assert all(line in shown for line in (*lines, *log))


def test_a_paper_of_another_history_ends_with_1_and_one_that_was_mistyped_with_3_or_2(
    exported: tuple[Path, list[str], Town],
) -> None:
    """If this fails, the paper in the client's binder is of no use, or one wrong letter accuses the log."""
    file, trust, town = exported
    texts = [each["entry"] for each in json.loads(file.read_text())["entries"]]
    of_form = {each.n: text for text in texts if (each := entries.read(text)).chain.startswith("form/")}
    n = max(of_form)
    leaf = entries.link(of_form[n])
    right = fingerprint(leaf)
    slip = f"{'0' if right[0] != '0' else '1'}{right[1:]}"
    auditor, words = town.person("auditor"), ("verify", str(file), *trust, "--at", "2026-12-02 18:00")
    for typed, code, said in (
        (f"{n}={right}", 0, f"entry {n} on paper, brought by you: {leaf}"),
        (f"{n}={fingerprint('A' * 43)}", 1, "there are two histories"),
        (f"{n + 1}={fingerprint('A' * 43)}", 1, f"this file ends at entry {n}"),
        (f"{n}={slip}", 3, "differs from this file's in 1 of 52 characters"),
        (right, 2, "is not an entry as it is printed"),
    ):
        assert said in " ".join(auditor.run(*words, "--printed", typed, code=code).split()), typed


@pytest.mark.parametrize("content", [b"", b"{}", b"%PDF-1.7", b'{"format": "bailee-bundle/2"}', b"\xff\xfe"])
def test_what_is_no_auditors_file_ends_with_3(exported: tuple[Path, list[str], Town], content: bytes) -> None:
    """If this fails, a wrong attachment is reported as a broken record."""
    file, trust, town = exported
    file.write_bytes(content)
    said = town.person("auditor").run("verify", str(file), *trust, code=3)

    assert "Traceback" not in said
    assert town.person("auditor").run("verify", str(file.parent / "missing.json"), *trust, code=2)


@pytest.mark.parametrize(
    "words",
    [
        ("--root", "harrow-field=short", "--log-key", "LOG"),
        ("--root", "ROOT", "--log-key", "ledger.example+00000000+AAAA"),
        ("--root", "ROOT"),
        ("--log-key", "LOG"),
    ],
)
def test_a_mistyped_or_missing_trust_anchor_ends_with_2(
    exported: tuple[Path, list[str], Town], words: tuple[str, ...]
) -> None:
    """If this fails, a verification can be run that trusts nobody, or whatever the file says."""
    file, trust, town = exported
    given = {"ROOT": trust[1], "LOG": trust[-1]}
    town.person("auditor").run("verify", str(file), *(given.get(word, word) for word in words), code=2)


def test_nothing_of_the_server_or_the_network_is_loaded(exported: tuple[Path, list[str], Town]) -> None:
    """If this fails, an auditor with the base installation only, or without a network, cannot verify."""
    file, trust, _ = exported
    script = (
        "import sys\n"
        "for name in ('httpx2', 'flask', 'sqlalchemy', 'platformdirs', 'alembic', 'fpdf', 'PIL', 'qrcode'):\n"
        "    sys.modules[name] = None\n"
        "from bailee_cli.main import bailee\n"
        "bailee(sys.argv[1:])\n"
    )
    done = subprocess.run(
        [sys.executable, "-I", "-c", script, "verify", str(file), *trust, "--at", "2026-12-02 18:00"],
        capture_output=True,
        text=True,
        check=False,
    )

    assert (done.returncode, done.stderr) == (0, "")
    assert "Records: unaltered" in done.stdout


def test_the_key_card_opens_the_file_it_came_apart_from(
    exported: tuple[Path, list[str], Town], tmp_path: Path
) -> None:
    """If this fails, an auditor types the card of a firm's letter and is told that its file is another's."""
    file, trust, town = exported
    pdf = tmp_path / "card.pdf"
    assert f"Written to {pdf}." in " ".join(town.person("clerk").run("key", "card", "-o", str(pdf)).split())
    told = town.person("clerk").answer("key", "card", "-o", str(pdf))
    assert told == {"organization": "harrow-field", "written": [str(pdf)]}
    page = pypdfium2.PdfDocument(pdf)[0]
    found = {each.text for each in zxingcpp.read_barcodes(page.render(scale=300 / 72).to_pil())}
    (root,) = (each for each in found if each.startswith("urn:"))
    (log,) = found - {root}
    lines = [" ".join(each.split()) for each in page.get_textpage().get_text_range().splitlines()]
    five = " ".join([each for each in lines if re.match(r"[1-5] [0-9A-Z]{4}", each)][:5])
    lab = next(each for each in trust if each.startswith("quill-lab="))
    auditor, others = town.person("auditor"), ["--root", lab, "--log-key", log, "--at", "2026-12-02 18:00"]
    for key in (root, five):
        said = auditor.run("verify", str(file), "--root", f"harrow-field={key}", *others)
        assert "Records: unaltered, not cosigned" in said
    wrong = five[:-1] + ("7" if five[-1] != "7" else "8")
    said = " ".join(
        auditor.run("verify", str(file), "--root", f"harrow-field={wrong}", *others, code=2).split()
    )
    assert "Line 5 of the five lines of the key is not as it was printed" in said
