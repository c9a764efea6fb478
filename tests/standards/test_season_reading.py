from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from seasons import TYPED

from certgen.standards.season_reading import read_case

READ = """
import sys
from pathlib import Path
from certgen.standards.season_reading import read_case
assert read_case(Path(sys.argv[1]))[0] is not None
print(*{"pandas", "certgen.rules"} & set(sys.modules))
"""


@pytest.mark.parametrize(
    ("crop", "said"), [("papaya", ()), ("quince", ("papaya", "quince"))], ids=["known", "unknown"]
)
def test_a_crop_that_no_profile_describes_is_told_where_it_is_named(
    tmp_path: Path, crop: str, said: tuple[str, ...]
) -> None:
    """With the crops that there are."""
    (tmp_path / "season.yaml").write_text(TYPED.replace("papaya", crop), encoding="utf-8")
    season, errors = read_case(tmp_path)

    assert (season is None) == bool(said)
    assert all(word in errors[0].text() for word in said)


def test_to_read_a_season_takes_no_rules(example_season: Path) -> None:
    """Nor frames: what only writes records starts without them."""
    run = subprocess.run(
        [sys.executable, "-c", READ, str(example_season)], capture_output=True, text=True, check=True
    )

    assert [] == run.stdout.split()
