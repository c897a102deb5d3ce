"""The files of the app as a browser gets them, without a browser."""

from __future__ import annotations

import gzip
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING

import brotli
import pytest

import bailee.web
from bailee.domain.acts.table import ROWS
from bailee.web import sign_app, vocabulary
from bailee.web.joined_app import joined

if TYPE_CHECKING:
    from field import Field

APP = Path(bailee.web.__file__).parent / "sign"
JOINED = {"at_once": "app.js", "later": "later.js", "apart": "desk.js"}
WORDS = (APP / "words.js", APP / "screens" / "words.js")
FUNCTION = re.MULTILINE | re.DOTALL


@pytest.fixture
def field(make_field: object) -> Field:
    """A service; no test here writes."""
    return make_field()  # type: ignore[operator,no-any-return]


def test_the_app_may_load_nothing_but_itself(field: Field) -> None:
    """A script of somebody else's in this page signs in a person's name (W3C CSP 3, Trusted Types)."""
    said = field.client.get("/sign/").headers["Content-Security-Policy"]
    rules = dict(each.strip().partition(" ")[::2] for each in said.split(";"))
    assert rules["default-src"] == rules["frame-ancestors"] == rules["base-uri"] == "'none'"
    assert rules["script-src"] == rules["connect-src"] == rules["style-src"] == "'self'"
    assert (rules["require-trusted-types-for"], rules["trusted-types"]) == ("'script'", "sign")
    assert "unsafe" not in said


def test_markup_is_never_made_of_text() -> None:
    """A name that holds a script must be shown as a name (common practice, no source)."""
    for each in APP.rglob("*.js"):
        assert not re.search(
            r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function", each.read_text()
        )


def test_each_sentence_of_the_app_has_a_name_of_its_own() -> None:
    """Of two with one name the later is shown in both places (ECMA-262 13.2.5: no error), and somebody reads
    nonsense.
    """
    names = re.findall(r"^  (\w+)[:,]", "".join(each.read_text() for each in WORDS), re.MULTILINE)
    assert len(names) > 200
    assert len(names) == len(set(names))


def test_no_sentence_of_the_app_is_read_by_nobody() -> None:
    """Every phone would load it at the edge of a network, and a second language translate it."""
    words = "".join(each.read_text() for each in WORDS)
    facts = re.search(r"^  facts: {\n(.*?)^  },$", words, FUNCTION)
    assert facts
    code = "".join(each.read_text() for each in APP.rglob("*.js") if each.name != "words.js")
    used = {*re.findall(r"words(?:\.|\[[^\]]*\")(\w+)", code), *re.findall(r': "(\w+)"', facts[1])}
    used |= {
        "run",
        "ranNotSigned",
        *(f"{kind}{end}" for kind in ("blocked", "full", "broken") for end in ("", "Title")),
    }
    assert set(re.findall(r"^  (\w+):", words, re.MULTILINE)) - used == set()


def test_every_sentence_of_the_desk_is_shown_somewhere() -> None:
    """A sentence that no screen shows is translated, and kept right, for nobody."""
    words = (APP / "desk" / "words.js").read_text()
    code = "".join(each.read_text() for each in (APP / "desk").glob("*.js") if each.name != "words.js")
    assert set(re.findall(r"^  (\w+):", words, re.MULTILINE)) - set(re.findall(r"desk\.(\w+)", code)) == set()


def test_everything_the_page_and_the_worker_name_is_there(field: Field) -> None:
    """One file that does not come, and a phone in a basement shows an empty page."""
    page = field.client.get("/sign/").text
    named = set(re.findall(r'(?:src|href)="(f/[^"]+)"', page))
    made = sign_app.edition().digest
    first = {"app.css", "app.js", "app.webmanifest", "mark.png", "mark.svg"}
    assert named == {f"f/{made}/{name}" for name in first}, "none waits for another to come"
    listed = json.loads(re.search(r"\.\.\.(\[.*?\])", field.client.get("/sign/worker.js").text)[1])  # type: ignore[index]
    assert set(listed) == set(sign_app.edition().loaded) == first | {"later.js", "memory/journal_worker.js"}
    for each in [*named, *(f"f/{made}/{name}" for name in (*listed, "desk.js"))]:
        answer = field.client.get(f"/sign/{each}")
        assert answer.status_code == 200, each
        assert "immutable" in answer.headers["Cache-Control"]


def test_what_runs_is_what_lies_in_the_folder() -> None:
    """A line that only the joined file has is read by nobody who reads the app (ECMA-262 16.2: modules)."""
    files = sign_app.edition().files
    whole = "".join(sign_app._content(name).decode() for name in ("app.js", "later.js", "desk.js"))
    for name in sorted(each for each in files if each.endswith(".js")):
        found = re.search(
            rf'^"{name}": (async )?\(\) => {{\n(.*?)^return {{[^\n]*}};\n}},\n', whole, FUNCTION
        )
        if name in ("worker.js", "memory/journal_worker.js"):  # each runs beside the page
            assert not found
            continue
        assert found, f"{name} is imported by nobody"
        whole = whole.replace(found[0], "")
        text = files[name].decode()
        assert bool(found[1]) == bool(re.search(r"^await ", text, re.MULTILINE)), name
        own = re.sub(r"^(import .*\n|export | +)", "", text, flags=re.MULTILINE)
        own = re.sub(r'import\("\./(.*?)"\)', r'$later("\1")', own)
        ran = re.sub(r"^const .* = module\(.*\);\n", "", found[2], flags=re.MULTILINE)
        assert ran.replace(f'new URL("{name}", import.meta.url)', "import.meta.url") == own
    assert len(whole.splitlines()) == 17, "what keeps the functions, and the two that run"


@pytest.mark.parametrize(
    "text",
    [
        'import el from "./el.js";',
        'import "./el.js";',
        "import { a } from './el.js';",
        'const later = import("./el.js");',
        "const later = (name) => import(name);",
        "export default 1;",
        "export { a };",
        'export * from "./el.js";',
        "export let a = 1;",
    ],
)
def test_a_form_that_would_be_joined_wrongly_is_refused(text: str) -> None:
    """The app would begin with an empty page on every phone (ECMA-262 16.2)."""
    with pytest.raises(ValueError, match=r"^main\.js: "):
        joined({"main.js": text, "el.js": ""}, "main.js", **JOINED)


@pytest.mark.parametrize(
    "text", ['import { a } from "./parts/el.js";\n', 'const a = () => import("./parts/el.js");\n']
)
def test_a_module_that_is_not_there_is_not_left_out(text: str) -> None:
    """The screen that needs it would be missing on every phone."""
    with pytest.raises(KeyError):
        joined({"main.js": text}, "main.js", **JOINED)


def test_another_edition_is_not_answered_with_this_one(field: Field) -> None:
    """Half of one edition with half of another signs what neither means."""
    assert field.client.get("/sign/f/0000-0000-0000-0000/main.js").status_code == 404
    made = sign_app.edition().digest
    for name in ("index.html", "worker.js", "../sign_app.py", "nothing.js"):
        assert field.client.get(f"/sign/f/{made}/{name}").status_code == 404
    assert field.client.get("/sign/").headers["Cache-Control"] == "no-cache"


def test_other_addresses_lead_to_the_app(field: Field) -> None:
    """Somebody typed the address of a screen from a colleague's phone."""
    answer = field.client.get("/sign/visit")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/sign/")


def test_the_app_is_small_enough_for_the_edge_of_a_network(field: Field) -> None:
    """At 1.6 Mb/s 38 kB take 0.19 s, and all that is kept for a place without a network 0.39 s (limits of the
    project's own).
    """
    sizes = dict.fromkeys(
        ("", *(f"f/{sign_app.edition().digest}/{each}" for each in sign_app.edition().loaded)), 0
    )
    for each in sizes:
        answer = field.client.get(f"/sign/{each}", headers={"Accept-Encoding": "gzip, deflate, br"})
        assert answer.headers["Content-Encoding"] == "br"
        sizes[each] = len(answer.data)
    later = sum(size for each, size in sizes.items() if each.endswith(("later.js", "journal_worker.js")))
    assert sum(sizes.values()) - later <= 38_000
    assert sum(sizes.values()) <= 78_900


@pytest.mark.parametrize(
    ("asked", "coding"),
    [
        ("gzip, deflate, br, zstd", "br"),
        ("gzip, deflate", "gzip"),
        ("br;q=0, gzip", "gzip"),
        ("gzip;q=0", None),
        ("identity", None),
        (None, None),
    ],
)
def test_what_is_packed_is_the_same(field: Field, asked: str | None, coding: str | None) -> None:
    """A browser that cannot unpack it shows an empty page, and a cache between may not mix them (RFC 9110
    12.5.3, 12.5.5).
    """
    unpacked = {"br": brotli.decompress, "gzip": gzip.decompress, None: bytes}
    made = sign_app.edition().digest
    for name in (
        "worker.js",
        f"f/{made}/app.css",
        f"f/{made}/mark.png",
        f"f/{made}/memory/journal_worker.js",
    ):
        answer = field.client.get(f"/sign/{name}", headers={"Accept-Encoding": asked} if asked else {})
        assert answer.headers.get("Content-Encoding") == coding
        assert answer.headers["Vary"] == "Accept-Encoding"
        assert unpacked[coding](answer.data) == sign_app._content(name.removeprefix(f"f/{made}/"))


def test_no_text_of_the_app_goes_over_two_lines() -> None:
    """It would be shown without what its second line begins with, since lines are sent without that."""
    for each in APP.rglob("*.js"):
        for line in each.read_text().splitlines():
            assert line.lstrip().startswith("//") or line.count("`") % 2 == 0, (each.name, line)
            assert not line.endswith("\\"), (each.name, line)


def test_the_edition_is_over_every_file() -> None:
    """Two people compare it, and one changed sentence must show (the digest is SHA-256)."""
    files = dict(sign_app.edition().files)
    assert sign_app.digest(files) == sign_app.edition().digest
    for name in ("words.js", "worker.js", "vocabulary.js", "index.html"):
        assert sign_app.digest(files | {name: files[name] + b" "}) != sign_app.edition().digest
    files["parts/x.js"] = files.pop("parts/el.js")
    assert sign_app.digest(files) != sign_app.edition().digest
    assert re.fullmatch(r"([0-9A-HJKMNP-TV-Z]{4}-){6}[0-9A-HJKMNP-TV-Z]{4}", sign_app.edition().digest)


def test_screens_name_only_members_that_acts_have() -> None:
    """A member that the registry renamed would be refused by the ledger after it was signed."""
    told = vocabulary.vocabulary()["acts"]
    for each in (APP / "screens").glob("*.js"):
        for act, path in re.findall(
            r'(?:code\(context, [^,]+|codesOf\([^,]+), "(\w+)", "([\w.]+)"', each.read_text()
        ):
            shape = told[act]["data"]
            for name in path.split("."):
                shape = next((one for one in shape.get("anyOf", ()) if one != {"type": "null"}), shape)
                shape = shape.get("items", shape)["properties"][name]
        for act in re.findall(r'act: "(\w+)"', each.read_text()):
            assert act in told


def test_every_act_of_the_app_is_in_the_registry() -> None:
    """Roles decide which buttons are there: they are those of the registry, not a second list."""
    told = vocabulary.vocabulary()["acts"]
    assert {name: set(each["may"]) for name, each in told.items()} == {
        name: set(ROWS[name].may) for name in told
    }
