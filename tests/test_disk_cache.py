"""What is kept from run to run comes back whole or not at all, and takes no more room than it may."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from msgspec import msgpack

from certgen import disk_cache, whole_files
from certgen.disk_cache import DiskCache, cache_folder, hash_files


@dataclass
class Kept:
    """A value of plain parts."""

    name: str
    numbers: list[int]


VALUE = Kept("é", [1, 2])


def open_cache(folder: Path | None, *, most: int = 10_000, one: int = 1_000) -> DiskCache[Kept]:
    """A cache of such values."""
    return DiskCache(folder, ".kept", Kept, most_bytes=most, entry_bytes=one)


def seal(name: str, body: bytes) -> bytes:
    """An entry with a checksum that fits its name and body."""
    return disk_cache._seal(name, body) + b"\n" + body


def test_what_was_stored_comes_back_under_its_whole_key(tmp_path: Path) -> None:
    """Every part of the key counts."""
    open_cache(tmp_path / "new").store(VALUE, "edition", "file")
    again = open_cache(tmp_path / "new")
    assert VALUE == again.load("edition", "file")
    assert [None] * 3 == [again.load("edition"), again.load("another", "file"), again.load("edition", "x")]


@pytest.mark.parametrize(
    "damage",
    [
        lambda _name, _entry: b"",
        lambda _name, entry: entry[:-1],
        lambda _name, entry: entry.replace(b"\x01", b"\x03"),
        lambda _name, entry: entry.partition(b"\n")[2],
        lambda _name, entry: b"\xff" + entry,
        lambda _name, entry: seal("another name", entry.partition(b"\n")[2]),
        lambda name, _entry: seal(name, b""),
        lambda name, _entry: seal(name, msgpack.encode(None)),
        lambda name, _entry: seal(name, msgpack.encode({"name": "x"})),
        lambda name, _entry: seal(name, msgpack.encode({"name": "x", "numbers": [True]})),
        lambda name, _entry: seal(name, b"\x91" * 900),
        lambda name, entry: seal(name, entry.partition(b"\n")[2]) + bytes(1_000),
    ],
)
def test_a_damaged_or_foreign_entry_is_passed_over(
    tmp_path: Path, damage: Callable[[str, bytes], bytes]
) -> None:
    """Torn, altered, another's, of another type or too large: nothing is found, and storing mends it."""
    cache = open_cache(tmp_path)
    cache.store(VALUE, "k")
    (path,) = tmp_path.iterdir()
    sound = path.read_bytes()
    path.write_bytes(damage(path.stem, sound))
    assert cache.load("k") is None
    cache.store(VALUE, "k")
    assert sound == path.read_bytes()


def test_what_cant_be_kept_costs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A lone surrogate, a number beyond 64 bits, a file in the way, a full disk: no entry and no error."""
    cache = open_cache(tmp_path / "cache")
    cache.store(Kept("\udc80", []), "k")
    cache.store(Kept("x", [2**70]), "k")
    (tmp_path / "taken").write_text("x")
    open_cache(tmp_path / "taken").store(VALUE, "k")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "no space left on device")

    monkeypatch.setattr(whole_files.os, "fdopen", full)
    cache.store(VALUE, "k")
    assert [] == [path for path in tmp_path.rglob("*") if path.is_file() and path.name != "taken"]


def test_without_a_folder_nothing_is_kept() -> None:
    """No folder: store does nothing, load finds nothing, and there is nothing to prune."""
    cache = open_cache(None)
    cache.store(VALUE, "k")
    cache.prune()
    assert cache.load("k") is None


def test_the_folder_keeps_within_its_bound(tmp_path: Path) -> None:
    """When entries outgrow the bound, those written first are taken out; foreign files are left alone."""
    cache = open_cache(tmp_path)
    (tmp_path / "mine.txt").write_text("x" * 10_000)
    for number in range(5):
        cache.store(VALUE, str(number))
        newest = max(tmp_path.glob("*.kept"), key=lambda path: path.stat().st_mtime_ns)
        os.utime(newest, (number, number))
    open_cache(tmp_path, most=2 * newest.stat().st_size).prune()
    assert [None, None, None, VALUE, VALUE] == [cache.load(str(number)) for number in range(5)]
    assert (tmp_path / "mine.txt").exists()


def test_an_edition_follows_names_and_bytes(tmp_path: Path) -> None:
    """The same files in any order give the same figure; another byte or another name gives another."""
    one, two = tmp_path / "one", tmp_path / "two"
    one.write_text("1")
    two.write_text("2")
    before = hash_files([one, two])
    assert before == hash_files([two, one])
    two.write_text("3")
    after = hash_files([one, two])
    two.rename(tmp_path / "three")
    assert 3 == len({before, after, hash_files([one, tmp_path / "three"])})


@pytest.mark.parametrize("off", ["off", "OFF"])
def test_the_environment_turns_it_off(off: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """`CERTGEN_CACHE=off` means that nothing is kept."""
    monkeypatch.setenv("CERTGEN_CACHE", off)
    assert cache_folder() is None


def test_where_the_cache_lies(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A folder of one's own choice, else the user's caches as the platform has them."""
    monkeypatch.setenv("CERTGEN_CACHE", str(tmp_path / "mine"))
    assert tmp_path / "mine" == cache_folder()
    monkeypatch.delenv("CERTGEN_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert tmp_path / "xdg" / "certgen" == cache_folder()
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    for platform, expected in (
        ("linux", ".cache/certgen"),
        ("darwin", "Library/Caches/certgen"),
        ("win32", "AppData/Local/certgen/Cache"),
    ):
        monkeypatch.setattr(disk_cache.sys, "platform", platform)
        assert tmp_path / expected == cache_folder()
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    assert tmp_path / "local" / "certgen" / "Cache" == cache_folder()

    def homeless() -> Path:
        raise RuntimeError("no home")

    monkeypatch.setattr(Path, "home", homeless)
    monkeypatch.setattr(disk_cache.sys, "platform", "linux")
    assert cache_folder() is None


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system knows no owners")
@pytest.mark.parametrize("what", ["entry", "folder"])
@pytest.mark.parametrize("mode", [0o020, 0o002])
def test_what_others_may_write_to_is_not_believed(tmp_path: Path, what: str, mode: int) -> None:
    """A checksum anybody can make: what a group or everybody may write to could hold another verdict."""
    home = tmp_path / "cache"
    open_cache(home).store(VALUE, "key")
    (entry,) = home.iterdir()
    chosen = entry if what == "entry" else home
    was = chosen.stat().st_mode
    chosen.chmod(was | mode)
    assert open_cache(home).load("key") is None
    chosen.chmod(was)
    assert VALUE == open_cache(home).load("key")


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="this system knows no owners")
def test_what_another_user_owns_is_neither_believed_nor_written_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another's folder: nothing is taken from it, laid into it or taken out of it."""
    home = tmp_path / "cache"
    open_cache(home).store(VALUE, "key")
    before = {path: path.read_bytes() for path in home.iterdir()}
    own = os.geteuid()
    monkeypatch.setattr("os.geteuid", lambda: own + 1)
    cache = open_cache(home, most=0)
    assert cache.load("key") is None
    cache.store(VALUE, "another")
    cache.prune()
    assert before == {path: path.read_bytes() for path in home.iterdir()}


def test_an_entry_that_is_no_file_is_passed_over(tmp_path: Path) -> None:
    """Neither a link is followed nor a pipe waited for."""
    home = tmp_path / "cache"
    open_cache(home).store(VALUE, "key")
    (entry,) = home.iterdir()
    entry.rename(tmp_path / "kept")
    entry.symlink_to(tmp_path / "kept")
    assert open_cache(home).load("key") is None
    entry.unlink()
    os.mkfifo(entry)
    assert open_cache(home).load("key") is None


def test_its_folders_are_for_their_owner_alone(tmp_path: Path) -> None:
    """All that are made, whatever the user's other files may be."""
    before = os.umask(0o002)
    try:
        open_cache(tmp_path / "a" / "b" / "c").store(VALUE, "key")
    finally:
        os.umask(before)
    folders = [tmp_path / "a", tmp_path / "a" / "b", tmp_path / "a" / "b" / "c"]
    assert [0o700] * 3 == [folder.stat().st_mode & 0o777 for folder in folders]
    assert VALUE == open_cache(tmp_path / "a" / "b" / "c").load("key")
