"""From nothing to a verified report, by the README's commands in the README's order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from printed import plain

from certgen import cli

if TYPE_CHECKING:
    from pathlib import Path


COVERS = ("certgen.cli.commands.report", "README.md")
pytestmark = pytest.mark.all_cores
ON = ("--on", "2026-11-20")
#: What a grower's own notebook may say; the headings are certgen's, the case and the dates a spreadsheet's.
NOTEBOOK = {
    "blocks": "block,status,boundary\neast,Organic,ditch and hedge\n",
    "plantings": "planting,block,variety,planted,material,material_status\n"
    "P1,east,Callow Bell,14 March 2025,seed,organic\n",
    "trees": "tree,planting,row,position,sex\n017,P1,2,5,hermaphrodite\n018,P1,2,6,hermaphrodite\n",
    "bagging": "bag,tree,covered,tag.date,tag.variety,tag.tree,flower,stage,outcome,fruit_marked\n"
    "B-0031,018,13/2/2026,13/2/2026,Callow Bell,018,hermaphrodite,closed bud,set,yes\n",
    "harvests": "harvest,date,bags,fruits,weight,stage,status\n"
    "H-07,2026-07-01,B-0031,1,612 g,colour break,organic\n",
    "batches": "batch,date,harvests,status,drying.method,drying.from,dry_weight\n"
    "E-03,2026-07-10,H-07,organic,fan,2026-07-10,9.4 g\n",
}
LOT = """\
lots:
  - lot: CB-26-01
    variety: Callow Bell
    packed: 2026-07-20
    sources: [{batch: E-03, weight: 9.4 g}]
    weight: 9.4 g
    status: organic
"""


def test_from_nothing_to_a_verified_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A newcomer lays out a folder, brings a notebook in, writes one record by hand, and is told at each
    step what was done and what is missing; the report that is printed of it can be verified.
    """
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def call(*typed: str) -> tuple[int, str, str]:
        code = cli.run(typed)
        shown = capsys.readouterr()
        assert "Traceback" not in shown.err
        # A number and its unit are held together by a space that does not break.
        return code, plain(shown.out), shown.err

    code, out, err = call(
        "new", "my-season", "--operation", "Two Streams Seed Garden", "--from", "2026-01-01"
    )
    assert (0, "") == (code, err)
    assert "my-season is laid out: season.yaml, land.yaml, inputs.yaml, trees.yaml" in out

    code, out, err = call("check", "my-season", *ON)
    assert (1, "") == (code, err)
    assert "0 records read. Checked as of 20 November 2026." in out
    assert "1 gap: 1 advice. There are no records yet, so nothing is shown: begin with the land" in out

    for table, content in NOTEBOOK.items():
        (tmp_path / f"{table}.csv").write_text(content, encoding="utf-8")
        code, out, err = call("import", "my-season", f"{table}.csv")
        assert (0, "") == (code, err), table
        assert f"of {table} added to" in out
    assert "1 record of batches added to seed.yaml\n" == out

    # What is typed by hand goes where the file's comments say, here with a slip that is then mended.
    seed = tmp_path / "my-season" / "seed.yaml"
    whole = seed.read_text(encoding="utf-8")
    seed.write_text(whole.replace("lots:\n", LOT.replace("variety: ", "varety: ")), encoding="utf-8")
    code, out, err = call("check", "my-season", *ON)
    assert 2 == code
    assert "there is no field `varety`; did you mean `variety`?" in " ".join(out.split())

    seed.write_text(whole.replace("lots:\n", LOT), encoding="utf-8")
    code, out, err = call("check", "my-season", *ON)
    assert (1, "") == (code, err)
    assert "8 records read." in out
    assert "[parent-unscreened]" in out
    assert "CB-26-01  unproven  9.4 g" in out
    assert "What to do first\n" in out

    code, out, err = call("trace", "my-season", "CB-26-01", *ON)
    assert (1, "") == (code, err)
    assert "NO RECORD of a screening sample" in out

    code, out, err = call("report", "my-season", "--registers", "none", "--out", "packet.pdf", *ON)
    assert (1, "packet.pdf") == (code, out.splitlines()[0]), err
    assert "Lots: 1 unproven. Gaps: " in out
    assert b"%PDF-" == (tmp_path / "packet.pdf").read_bytes()[:5]

    code, out, err = call("verify", "packet.pdf", "--against", "my-season")
    assert (0, "") == (code, err)
    assert out.startswith("Two Streams Seed Garden, season 2026\nRecords as of 2026-11-20")
    assert out.endswith("This packet's pages follow from the records inside it.\n")

    packet = tmp_path / "packet.pdf"
    packet.write_bytes(packet.read_bytes()[:-2000])
    code, out, err = call("verify", "packet.pdf")
    assert (2, "") == (code, out)
    assert "certgen verify: this PDF cannot be read; it was cut short or damaged on its way.\n" == err
