"""Club files: what is left out is assumed, and everything wrong is listed at once."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from facemark.clubs import radius_from_gap_mm, typical_club
from facemark.errors import BookError, SetupError
from facemark.inputs import ClubKind
from facemark.tell.clubfile import club_from_toml, club_toml, load_club, save_club

FIXTURES = Path(__file__).parent.parent.parent / "fixtures" / "clubs"
HEAD = 'schema = 1\nkind = "driver"\n'


def test_what_is_left_out_is_assumed() -> None:
    club = club_from_toml(HEAD + "bulge_mm = 300\nbulge_err_mm = 8.0\n", "x.toml", default_name="x")
    assert club.name == "x"
    assert club.bulge_mm == 300.0
    assert club.errs == {"bulge_mm": 8.0}
    assert club.assumed == typical_club(ClubKind.DRIVER).assumed - {"bulge_mm"}


def test_flat_is_a_radius() -> None:
    club = club_from_toml(HEAD + 'bulge_mm = "flat"\n', "x.toml")
    assert club.bulge_mm == math.inf
    assert "bulge_mm" not in club.assumed


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("schema = 2", "schema: 2 is not known; 1 is"),
        ('kind = "putter"', "kind: 'putter' is not known"),
        ("bulg_mm = 300.0", "bulg_mm: not known here; bulge_mm is"),
        ('loft_deg = "ten"', "loft_deg: 'ten' came, a number was expected"),
        ("loft_deg = true", "loft_deg: True came"),
        ("loft_deg = nan", "loft_deg: nan came"),
        ('bulge_mm = "round"', "bulge_mm: 'round' came, a number, or \"flat\" was expected"),
        ("loft_deg = 120.0", "loft_deg: 120 is not possible; 0 to 75 is"),
        ("cg_depth_mm = 0.0", "cg_depth_mm: 0 is not possible; 1 to 70 is"),
        ("moi_vertical_kgm2 = -1e-4", "moi_vertical_kgm2: -0.0001 is not possible"),
        ("moi_vertical_kgm2 = 4600.0", r"4600 g cm2 is 0.00046 kg m2"),
        ("head_kg = 205", r"205 g is 0.205 kg"),
        ("sweet_toe_mm = 90", "sweet_toe_mm: 90 is not possible; -25 to 25 is"),
        ("loft_deg = 12.0\nloft_err_deg = -1.0", "loft_err_deg: its error -1 is not possible"),
        ("loft_err_deg = 1.0", "loft_err_deg: an error without loft_deg has no meaning"),
        (
            "moi_vertical_kgm2 = 6e-4\nmoi_heeltoe_kgm2 = 2e-4\nmoi_foreaft_kgm2 = 2e-4",
            "no body has one moment of inertia larger than the sum",
        ),
        ("loft_deg =", "is not TOML"),
    ],
)
def test_a_mistake_is_named_with_file_key_and_what_is_possible(line: str, words: str) -> None:
    keys = {part.split("=")[0].strip() for part in line.splitlines()}
    head = "".join(part + "\n" for part in HEAD.splitlines() if part.split("=")[0].strip() not in keys)
    with pytest.raises(SetupError) as refused:
        club_from_toml(head + line + "\n", "mine.toml")
    assert words in str(refused.value)
    assert "mine.toml" in str(refused.value)


def test_all_mistakes_are_listed_at_once() -> None:
    with pytest.raises(SetupError) as refused:
        club_from_toml(
            'schema = 1\nkind = "iron"\nloft_deg = 120.0\nbulg_mm = 1\ncg_depth_mm = 0.0\n', "x.toml"
        )
    for key in ("loft_deg", "bulg_mm", "cg_depth_mm"):
        assert key in str(refused.value)


def test_schema_and_kind_are_needed() -> None:
    with pytest.raises(SetupError, match=r"schema: missing.*kind: missing"):
        club_from_toml("", "x.toml")


@pytest.mark.parametrize("kind", list(ClubKind))
def test_written_and_read_back_it_is_the_same_club(kind: ClubKind, tmp_path: Path) -> None:
    club = club_from_toml(
        f'schema = 1\nname = "my \\"{kind}\\" ä"\nkind = "{kind}"\nsweet_toe_mm = -1.25\nbulge_mm = "flat"\n'
        "moi_vertical_kgm2 = 2.75e-4\nmoi_vertical_err_kgm2 = 1e-5\n",
        "x.toml",
    )
    save_club(club, tmp_path / "c.toml")
    assert load_club(tmp_path / "c.toml") == club
    assert club_from_toml(club_toml(typical_club(kind)), "x").assumed == typical_club(kind).assumed


def test_an_existing_file_is_kept(tmp_path: Path) -> None:
    club = typical_club(ClubKind.IRON)
    save_club(club, tmp_path / "c.toml")
    with pytest.raises(BookError, match="exists"):
        save_club(club, tmp_path / "c.toml")
    save_club(club, tmp_path / "c.toml", replace=True)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="cannot be read"):
        load_club(tmp_path / "none.toml")
    (tmp_path / "big.toml").write_text("#" * 70_000, encoding="utf-8")
    with pytest.raises(BookError, match="too large"):
        load_club(tmp_path / "big.toml")
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(SetupError, match="not text"):
        load_club(tmp_path / "bytes.toml")


@pytest.mark.parametrize("path", sorted(FIXTURES.glob("*.toml")), ids=lambda path: path.stem)
def test_example_clubs_load(path: Path) -> None:
    assert load_club(path).kind is ClubKind(path.stem)


def test_there_is_an_example_of_every_kind() -> None:
    assert {path.stem for path in FIXTURES.glob("*.toml")} == set(ClubKind)


def test_radius_from_a_straight_edge() -> None:
    # A circle of 305 mm: over 80 mm it falls back by 305 - sqrt(305^2 - 40^2) = 2.634 mm.
    assert radius_from_gap_mm(80.0, 305.0 - math.sqrt(305.0**2 - 40.0**2)) == pytest.approx(305.0, rel=1e-9)
    assert radius_from_gap_mm(80.0, 0.0) == math.inf
    with pytest.raises(SetupError, match="not possible"):
        radius_from_gap_mm(80.0, 60.0)
