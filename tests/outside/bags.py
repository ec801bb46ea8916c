"""Makes bags of every kind and has them judged by bagit, the library of the Library of Congress for BagIt.

    python tests/outside/bags.py make FOLDER      makes the bags in FOLDER, judges each, and prints what was found
    python tests/outside/bags.py judge BAG        judges one bag, a folder or a .zip, and prints what was found

What is printed is JSON. The kinds are those of the Library's public conformance suite for BagIt 0.97 and 1.0, made anew
with hashes worked out by hashlib, and some more. What each bag is by RFC 8493 stands beside it, with the section that
decides it; of 0.97 by the last draft of that version where it says otherwise.
"""

from __future__ import annotations

import hashlib
import json
import logging
import sys
import tempfile
import unicodedata
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import bagit

Files = dict[str, bytes]

INFO = "bag-info.txt"
MANIFEST = "manifest-md5.txt"
TAGS = "tagmanifest-md5.txt"
DECLARATION = "BagIt-Version: {}\nTag-File-Character-Encoding: UTF-8\n"
SOUND, SPOILT = True, False


class Kind(NamedTuple):
    """What is done to a sound bag of a version, and what it is then."""

    words: str
    versions: tuple[str, ...]
    is_valid: bool
    section: str
    change: Callable[[Files], None]
    are_tags_renewed: bool = True


BOTH, OLD, RFC = ("0.97", "1.0"), ("0.97",), ("1.0",)


def coded(path: str) -> str:
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def lines(files: Files, algorithm: str, paths: list[str]) -> bytes:
    values = {path: hashlib.new(algorithm, files[path]).hexdigest() for path in sorted(paths)}
    return "".join(f"{value}  {coded(path)}\n" for path, value in values.items()).encode()


def relist(files: Files, algorithm: str = "md5") -> None:
    """Lists the payload anew, its amount too."""
    payload = [path for path in files if path.startswith("data/")]
    files[f"manifest-{algorithm}.txt"] = lines(files, algorithm, payload)
    amount = f"{sum(len(files[path]) for path in payload)}.{len(payload)}"
    files[INFO] = f"Source-Organization: A Shop\nPayload-Oxum: {amount}\n".encode()


def retag(files: Files, algorithm: str = "md5") -> None:
    tags = [path for path in files if not path.startswith(("data/", "tagmanifest-"))]
    files[f"tagmanifest-{algorithm}.txt"] = lines(files, algorithm, tags)


def sound(version: str) -> Files:
    files = {
        "bagit.txt": DECLARATION.format(version).encode(),
        "data/a.txt": b"first\n",
        "data/sub/b.txt": b"other\n",
    }
    relist(files)
    retag(files)
    return files


# What a kind does to the files: each gives a function.


def put(path: str, content: bytes, is_listed: bool = False) -> Callable[[Files], None]:
    def change(files: Files) -> None:
        files[path] = content
        if is_listed:
            relist(files)

    return change


def drop(*paths: str) -> Callable[[Files], None]:
    return lambda files: [files.pop(path) for path in paths] and None


def move(path: str, to: str) -> Callable[[Files], None]:
    return lambda files: files.update({to: files.pop(path)})


def edit(path: str, old: str, new: str) -> Callable[[Files], None]:
    def change(files: Files) -> None:
        assert old.encode() in files[path], f"{old} is not in {path}"
        files[path] = files[path].replace(old.encode(), new.encode())

    return change


def add(path: str, more: str) -> Callable[[Files], None]:
    return lambda files: files.update({path: files[path] + more.encode()})


def under(*algorithms: str) -> Callable[[Files], None]:
    """Hashed by these instead of MD5."""

    def change(files: Files) -> None:
        del files[MANIFEST], files[TAGS]
        for algorithm in algorithms:
            relist(files, algorithm)
        for algorithm in algorithms:
            retag(files, algorithm)

    return change


def both(*changes: Callable[[Files], None]) -> Callable[[Files], None]:
    return lambda files: [change(files) for change in changes] and None


def in_utf_16(files: Files) -> None:
    edit("bagit.txt", "UTF-8", "UTF-16")(files)
    for path in (INFO, MANIFEST):
        files[path] = files[path].decode().encode("utf-16")
    retag(files)
    files[TAGS] = files[TAGS].decode().encode("utf-16")


def in_one_of_two(files: Files) -> None:
    """The second manifest leaves a file out."""
    relist(files, "sha1")
    files["manifest-sha1.txt"] = files["manifest-sha1.txt"].splitlines(keepends=True)[0]


def twice(name: str, value: str | None = None) -> Callable[[Files], None]:
    """Lists the first file again, under a name, with its own value or another."""

    def change(files: Files) -> None:
        own = hashlib.md5(files["data/a.txt"]).hexdigest()
        add(MANIFEST, f"{value or own}  {name}\n")(files)

    return change


def in_capitals(files: Files) -> None:
    for path in ("data/a.txt", "data/sub/b.txt"):
        value = hashlib.md5(files[path]).hexdigest()
        edit(MANIFEST, value, value.upper())(files)


def lists_the_declaration(files: Files) -> None:
    add(MANIFEST, f"{hashlib.md5(files['bagit.txt']).hexdigest()}  bagit.txt\n")(files)


def without_manifest_in_tags(files: Files) -> None:
    rest = [line for line in files[TAGS].splitlines(keepends=True) if b" manifest-" not in line]
    files[TAGS] = b"".join(rest)


def apart(files: Files) -> None:
    """Listed with the accent on its letter, kept with the accent apart."""
    put("data/caf\u00e9.txt", b"x", True)(files)
    move("data/caf\u00e9.txt", unicodedata.normalize("NFD", "data/caf\u00e9.txt"))(files)


def nothing(files: Files) -> None:
    return None


ZEROS = "0" * 32
FETCHED = "http://shop.example/a.txt"

KINDS = [
    # As it may be.
    Kind("basic", BOTH, SOUND, "3", nothing),
    Kind("sha1", BOTH, SOUND, "2.4", under("sha1"), False),
    Kind("sha256", BOTH, SOUND, "2.4", under("sha256"), False),
    Kind("sha512", BOTH, SOUND, "2.4", under("sha512"), False),
    Kind("sha224", BOTH, SOUND, "2.4", under("sha224"), False),
    Kind("two manifests", BOTH, SOUND, "2.1.3", under("md5", "sha512"), False),
    Kind("no tags", BOTH, SOUND, "2.2", drop(INFO, TAGS), False),
    Kind("labels repeat", BOTH, SOUND, "2.2.2", add(INFO, "Contact-Name: A\nContact-Name: B\n")),
    Kind("a value goes on", BOTH, SOUND, "2.2.2", add(INFO, "External-Description: one\n  two\n")),
    Kind("lines end in CR LF", BOTH, SOUND, "2.1.3", edit(MANIFEST, "\n", "\r\n")),
    Kind("lines end in CR", BOTH, SOUND, "2.1.3", edit(MANIFEST, "\n", "\r")),
    Kind("declaration ends in CR LF", BOTH, SOUND, "2.1.1", edit("bagit.txt", "\n", "\r\n")),
    Kind("encoding in small letters", BOTH, SOUND, "2.1.1", edit("bagit.txt", "UTF-8", "utf-8")),
    Kind("tabs in the manifest", BOTH, SOUND, "2.1.3", edit(MANIFEST, "  ", " \t ")),
    Kind("capital digits", BOTH, SOUND, "2.1.3", in_capitals),
    Kind("blanks in names", BOTH, SOUND, "2.1.3", put("data/a b/c  d.txt", b"x", True)),
    Kind("letters of every script", BOTH, SOUND, "2.3", put("data/\u00e4\u0436\u6f22.txt", b"x", True)),
    Kind("line ends in names", BOTH, SOUND, "2.1.3", put("data/one\ntwo\rthree.txt", b"x", True)),
    Kind("percent in a name", RFC, SOUND, "2.1.3", put("data/100%.txt", b"x", True)),
    Kind("a code as a name", RFC, SOUND, "2.1.3", put("data/a%0Ab.txt", b"x", True)),
    Kind("hidden files", BOTH, SOUND, "2.1.2", put("data/.keep", b"", True)),
    Kind("a tilde inside", BOTH, SOUND, "2.1.3", put("data/~a.txt", b"x", True)),
    Kind("other tag files unlisted", BOTH, SOUND, "2.2.4", put("notes/x.txt", b"x"), False),
    Kind("other tag files listed", BOTH, SOUND, "2.2.4", put("notes/x.txt", b"x")),
    Kind("fetched already", BOTH, SOUND, "2.2.3", put("fetch.txt", f"{FETCHED} 6 data/a.txt\n".encode())),
    Kind("fetched, length unsaid", BOTH, SOUND, "2.2.3", put("fetch.txt", f"{FETCHED} - data/a.txt\n".encode())),
    Kind("tag files in UTF-16", BOTH, SOUND, "2.1.1", in_utf_16, False),
    Kind("accents apart on the disk", BOTH, SOUND, "6.1", apart),
    Kind("names alike but for case", BOTH, SOUND, "6.1", put("data/A.txt", b"x", True)),
    Kind("marks of a sum tool", OLD, SOUND, "2.1.3", edit(MANIFEST, "  data", " *data")),
    Kind("dot before the path", BOTH, SOUND, "2.1.3", edit(MANIFEST, "  data", "  ./data")),
    Kind("path leads up and back", BOTH, SOUND, "5.1", edit(MANIFEST, "data/a", "data/../data/a")),
    Kind("in one of two manifests", OLD, SOUND, "3", in_one_of_two),
    # As it must not be.
    Kind("no declaration", BOTH, SPOILT, "2.1.1", drop("bagit.txt")),
    Kind("version unknown", BOTH, SPOILT, "2.1.1", put("bagit.txt", DECLARATION.format("9.9").encode())),
    Kind("version not a number", BOTH, SPOILT, "2.1.1", put("bagit.txt", DECLARATION.format("one").encode())),
    Kind("byte order mark", BOTH, SPOILT, "2.1.1", edit("bagit.txt", "BagIt-", "\ufeffBagIt-")),
    Kind("three lines", BOTH, SPOILT, "2.1.1", add("bagit.txt", "Note: x\n")),
    Kind("one line", BOTH, SPOILT, "2.1.1", put("bagit.txt", b"BagIt-Version: 1.0\n")),
    Kind(
        "lines in the wrong order",
        RFC,
        SPOILT,
        "2.1.1",
        put("bagit.txt", b"Tag-File-Character-Encoding: UTF-8\nBagIt-Version: 1.0\n"),
    ),
    Kind("blank before the colon", RFC, SPOILT, "2.1.1", edit("bagit.txt", "Version:", "Version :")),
    Kind("two blanks after the colon", RFC, SPOILT, "2.1.1", edit("bagit.txt", ": 1.0", ":  1.0")),
    Kind("encoding unknown", BOTH, SPOILT, "2.1.1", edit("bagit.txt", "UTF-8", "UTF-9000")),
    Kind(
        "no payload folder",
        BOTH,
        SPOILT,
        "2.1.2",
        both(drop("data/a.txt", "data/sub/b.txt"), put(MANIFEST, b""), drop(INFO)),
    ),
    Kind("no manifest", BOTH, SPOILT, "2.1.3", drop(MANIFEST)),
    Kind("manifest of an unknown hash", BOTH, SPOILT, "2.4", move(MANIFEST, "manifest-crc9.txt")),
    Kind("file missing", BOTH, SPOILT, "3", drop("data/a.txt")),
    Kind("file extra", BOTH, SPOILT, "3", put("data/new.txt", b"x")),
    Kind("file altered", BOTH, SPOILT, "3", put("data/a.txt", b"First\n")),
    Kind("file renamed", BOTH, SPOILT, "3", move("data/a.txt", "data/c.txt")),
    Kind("in one of two manifests", RFC, SPOILT, "3", in_one_of_two),
    Kind(
        "one of two manifests differs",
        BOTH,
        SPOILT,
        "3",
        both(
            lambda files: relist(files, "sha1"),
            edit("manifest-sha1.txt", hashlib.sha1(b"first\n").hexdigest(), "0" * 40),
        ),
    ),
    Kind("listed twice", RFC, SPOILT, "2.1.3", twice("data/a.txt")),
    Kind("listed twice, values differ", BOTH, SPOILT, "2.1.3", twice("data/a.txt", ZEROS)),
    Kind("listed under two cases", BOTH, SPOILT, "3", twice("data/A.TXT")),
    Kind("marks of a sum tool", RFC, SPOILT, "2.1.3", edit(MANIFEST, "  data", " *data")),
    Kind("path leads out", BOTH, SPOILT, "2.1.3", twice("../a.txt")),
    Kind("path from the root", BOTH, SPOILT, "2.1.3", twice("/etc/hostname")),
    Kind("path from home", BOTH, SPOILT, "2.1.3", twice("~/a.txt")),
    Kind("path to a tag file", BOTH, SPOILT, "2.1.3", lists_the_declaration),
    Kind("path to a folder", BOTH, SPOILT, "2.1.3", twice("data/sub")),
    Kind("value too short", BOTH, SPOILT, "2.1.3", edit(MANIFEST, "  data/a", "\r  data/a")),
    Kind("line without a path", BOTH, SPOILT, "2.1.3", add(MANIFEST, f"{ZEROS}\n")),
    Kind("remark in the manifest", BOTH, SPOILT, "2.1.3", add(MANIFEST, "# a remark\n")),
    Kind("manifest is not UTF-8", BOTH, SPOILT, "2.3", put(MANIFEST, b"\xff\xfe\xff\n")),
    Kind("amount of bytes", BOTH, SPOILT, "2.2.2", edit(INFO, "12.2", "13.2")),
    Kind("amount of files", BOTH, SPOILT, "2.2.2", edit(INFO, "12.2", "12.3")),
    Kind("amount without files", BOTH, SPOILT, "2.2.2", edit(INFO, "12.2", "12")),
    Kind("label without a colon", BOTH, SPOILT, "2.2.2", add(INFO, "no colon\n")),
    Kind("label ends in a blank", RFC, SPOILT, "2.2.2", add(INFO, "Contact-Name : A\n")),
    Kind("no blank after a label", RFC, SPOILT, "2.2.2", add(INFO, "Contact-Name:A\n")),
    Kind(
        "to be fetched",
        BOTH,
        SPOILT,
        "3",
        both(drop("data/a.txt"), put("fetch.txt", f"{FETCHED} 6 data/a.txt\n".encode())),
    ),
    Kind("fetch of what is not listed", BOTH, SPOILT, "2.2.3", put("fetch.txt", f"{FETCHED} - data/c.txt\n".encode())),
    Kind("fetch of a tag file", BOTH, SPOILT, "2.2.3", put("fetch.txt", f"{FETCHED} - {INFO}\n".encode())),
    Kind("fetch leads out", BOTH, SPOILT, "2.2.3", put("fetch.txt", f"{FETCHED} - ../a.txt\n".encode())),
    Kind("fetch from no address", BOTH, SPOILT, "2.2.3", put("fetch.txt", b"a.txt 6 data/a.txt\n")),
    Kind("fetch without a length", BOTH, SPOILT, "2.2.3", put("fetch.txt", f"{FETCHED} data/a.txt\n".encode())),
    Kind("label file altered", BOTH, SPOILT, "3", edit(INFO, "A Shop", "B Shop"), False),
    Kind("label file missing", BOTH, SPOILT, "3", drop(INFO), False),
    Kind("manifest altered", BOTH, SPOILT, "3", edit(MANIFEST, "\n", "\r\n"), False),
    Kind("tag file missing", BOTH, SPOILT, "3", edit(TAGS, "bagit.txt", "bag.txt"), False),
    Kind("tag path leads out", BOTH, SPOILT, "2.2.1", edit(TAGS, "bagit.txt", "../bagit.txt"), False),
    Kind("manifest not among the tags", RFC, SPOILT, "2.2.1", without_manifest_in_tags, False),
    Kind("tag manifest lists itself", RFC, SPOILT, "2.2.1", add(TAGS, f"{ZEROS}  {TAGS}\n"), False),
]


def write(files: Files, folder: Path) -> None:
    folder.mkdir(parents=True)
    for path, content in files.items():
        place = folder / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content)


def judged(folder: Path) -> tuple[bool, str]:
    """What bagit says. It may also stumble over a bag, which is no more than a fault of the bag."""
    try:
        bagit.Bag(str(folder)).validate()
    except Exception as error:  # noqa: BLE001
        return False, f"{type(error).__name__}: {error}"
    return True, ""


def make(folder: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    for kind in KINDS:
        for version in kind.versions:
            files = sound(version)
            kind.change(files)
            if kind.are_tags_renewed:
                retag(files)
            name = f"{version} {kind.words}"
            write(files, folder / name)
            is_valid, words = judged(folder / name)
            law = {"by_rfc": kind.is_valid, "section": kind.section}
            found.append({"name": name, **law, "bagit": is_valid, "words": words})
    return found


def judge(bag: Path) -> dict[str, object]:
    """One bag; that in a .zip lies in its only folder, or at its top."""
    if bag.is_dir():
        is_valid, words = judged(bag)
    else:
        with tempfile.TemporaryDirectory() as place:
            with zipfile.ZipFile(bag) as packed:
                packed.extractall(place)
            inside = list(Path(place).iterdir())
            is_valid, words = judged(inside[0] if len(inside) == 1 else Path(place))
    return {"bagit": is_valid, "words": words, "version": bagit.VERSION}


if __name__ == "__main__":
    logging.disable(logging.CRITICAL)
    what, where = sys.argv[1], Path(sys.argv[2])
    print(json.dumps(make(where) if what == "make" else judge(where)))
