from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from random import Random

import pytest
from foreign_files import SEASON, TREES, pack_packet, pack_workbook
from hypothesis import given, settings
from hypothesis import strategies as st
from mutations import mutate, vocabulary
from targets import CORPUS, MOST_BYTES_OTHERWISE, TARGETS, bound_of, corpus_of

from certgen import cli

COVERS = ("certgen.records", "certgen.exchange.importing.grids", "certgen.verification.verification")
KEPT = [(target, path) for target in TARGETS for path in corpus_of(target)]


@pytest.mark.parametrize(("target", "path"), KEPT, ids=lambda value: getattr(value, "name", value))
def test_every_kept_input(target: str, path: Path) -> None:
    """The shapes that fuzzing starts from, and everything it ever found, hold."""
    TARGETS[target](path.read_bytes())


@pytest.mark.parametrize("target", TARGETS)
@settings(max_examples=150)
@given(data=st.binary(max_size=300))
def test_any_bytes(target: str, data: bytes) -> None:
    """Bytes that nobody meant."""
    TARGETS[target](data)


@pytest.mark.parametrize("target", TARGETS)
@settings(max_examples=150)
@given(text=st.text(max_size=300))
def test_any_text(target: str, text: str) -> None:
    """Text that nobody meant."""
    TARGETS[target](text.encode("utf-8", "surrogatepass"))


WORDS = vocabulary()
#: Each of these lays out, tries and reads a whole season: they get fewer inputs here, and more from fuzz.py.
WHOLE_SEASONS = ("importer-csv", "importer-map", "importer-xlsx", "verify")


@pytest.mark.parametrize("target", [target for target in TARGETS if target not in WHOLE_SEASONS])
@settings(max_examples=300)
@given(seed=st.integers(0, 2**32))
def test_mutated_inputs(target: str, seed: int) -> None:
    """Kept inputs with a few changes, as a typing hand or a torn disk would make them."""
    corpus = [path.read_bytes() for path in corpus_of(target)]
    chance = Random(seed)
    TARGETS[target](mutate(chance.choice(corpus), corpus, WORDS, chance, bound_of(target)))


@pytest.mark.parametrize("target", WHOLE_SEASONS)
@settings(max_examples=10)
@given(seed=st.integers(0, 2**32))
def test_mutated_files_from_strangers(target: str, seed: int) -> None:
    """Sheets, maps and packets with a few changes, inside their archive or outside of it."""
    corpus = [path.read_bytes() for path in corpus_of(target)]
    chance = Random(seed)
    TARGETS[target](mutate(chance.choice(corpus), corpus, WORDS, chance, bound_of(target)))


def test_mutations_can_be_repeated() -> None:
    """The same seed gives the same input, within its bound."""
    corpus = [path.read_bytes() for path in corpus_of("reader")]
    one, other = (mutate(corpus[3], corpus, WORDS, Random(5), MOST_BYTES_OTHERWISE) for _ in range(2))
    assert one == other
    assert len(one) <= MOST_BYTES_OTHERWISE


@pytest.mark.parametrize("target", TARGETS)
def test_the_fuzzer_itself(target: str) -> None:
    """The script runs its targets and says how many inputs it fed."""
    script = str(CORPUS.parent / "fuzz.py")
    options = ["--target", target, "--runs", "20", "--plain"]
    ended = subprocess.run([sys.executable, script, *options], capture_output=True, text=True, check=False)
    assert "" == ended.stderr
    assert 0 == ended.returncode
    assert f"{target}: 20 inputs" in ended.stdout


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="only Linux hands its peak down")
def test_what_the_parent_held_is_no_finding() -> None:
    """A process that held more than any input may need starts the script, which finds nothing."""
    import fuzz

    script = str(CORPUS.parent / "fuzz.py")
    starts = (
        "import subprocess, sys; held = bytes([1]) * int(sys.argv[1]); "
        "sys.exit(subprocess.run([sys.executable, *sys.argv[2:]]).returncode)"
    )
    options = ["--target", "quantities", "--runs", "5", "--plain"]
    large = [sys.executable, "-c", starts, str(fuzz.MOST_MEMORY + (1 << 26)), script, *options]
    ended = subprocess.run(large, capture_output=True, text=True, check=False)
    assert (0, "") == (ended.returncode, ended.stderr)


def test_a_finding_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    """What breaks a target is written down and ends the run."""
    import fuzz

    def break_on_a(data: bytes) -> None:
        assert b"a" not in data

    (tmp_path / "reader").mkdir()
    (tmp_path / "reader" / "seed").write_bytes(b"trees")
    monkeypatch.setattr(fuzz, "CORPUS", tmp_path)
    monkeypatch.setitem(TARGETS, "reader", break_on_a)
    monkeypatch.setattr(fuzz, "corpus_of", lambda _: [tmp_path / "reader" / "seed"])
    assert 1 == fuzz.fuzz_plainly("reader", 10_000, 1, 0)
    (found,) = (tmp_path / "reader").glob("found-*")
    assert b"a" in found.read_bytes()
    assert str(found) in capsys.readouterr().out


@pytest.mark.parametrize("target", WHOLE_SEASONS)
def test_commands_refuse_what_fuzzing_found(
    target: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """From the command line each kept file ends with 0, 1 or 2 and a message, never with a fault of ours."""
    (tmp_path / "season").mkdir()
    for name, text in (("season.yaml", SEASON), ("trees.yaml", TREES)):
        (tmp_path / "season" / name).write_text(text)
    for path in corpus_of(target):
        data = path.read_bytes()
        file = tmp_path / {"importer-xlsx": "bags.xlsx", "verify": "packet.pdf"}.get(target, "bagging.csv")
        arguments = ["import", str(tmp_path / "season"), str(file), "--dry-run"]
        if target == "verify":
            file.write_bytes(pack_packet(data))
            arguments = ["verify", str(file)]
        elif target == "importer-map":
            file.write_text("Bag no,Tree\nB1,T1\n")
            (tmp_path / "map.yaml").write_bytes(data)
            arguments += ["--map", str(tmp_path / "map.yaml")]
        else:
            file.write_bytes(pack_workbook(data) if target == "importer-xlsx" else data)
        code = cli.run(arguments)
        told = capsys.readouterr()
        assert code in {0, 1, 2}, (path.name, told.err)
        assert told.out or told.err
        assert "Traceback" not in told.err
