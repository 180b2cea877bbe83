"""Every published work we lean on: key, authors, year, title, where to find it.

``seen`` is True where a stored copy (or its abstract) was read while building; False where we know the work
only as quoted by others. docs/reference/sources.md is printed from this file.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One work."""

    authors: str
    year: int
    title: str
    where: str
    seen: bool


SOURCES: dict[str, Source] = {
    "iso7810": Source(
        authors="ISO/IEC",
        year=2019,
        title="ISO/IEC 7810: Identification cards - Physical characteristics (ID-1: 85.60 x 53.98 mm)",
        where="standard; dimensions as given by encyclopaedia pages",
        seen=False,
    ),
    "equipment-rules": Source(
        authors="USGA and The R&A",
        year=2019,
        title="Equipment Rules: ball diameter not less than 42.67 mm, mass not more than 45.93 g",
        where="Part 4; head dimensions in Part 2",
        seen=True,
    ),
    "jcgm100": Source(
        authors="JCGM",
        year=2008,
        title="Evaluation of measurement data: guide to the expression of uncertainty (GUM), JCGM 100:2008",
        where="bipm.org",
        seen=False,
    ),
}
