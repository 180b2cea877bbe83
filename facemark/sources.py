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
    "tutelman-gear": Source(
        authors="Tutelman, D.",
        year=2009,
        title="All about gear effect: table of net curve with 12 in bulge",
        where="the author's site; read in our reference notes",
        seen=False,
    ),
    "tost": Source(
        authors="Schuirmann, D. J.",
        year=1987,
        title="A comparison of the two one-sided tests procedure and the power approach",
        where="Journal of Pharmacokinetics and Biopharmaceutics 15, 657-680; as in statsmodels ttost_mean",
        seen=False,
    ),
    "willink-hall": Source(
        authors="Willink, R. and Hall, B. D.",
        year=2002,
        title="A classical method for uncertainty analysis with multidimensional data",
        where="Metrologia 39, 361-369; total-variance form, from memory, checked by simulation",
        seen=False,
    ),
    "box1954": Source(
        authors="Box, G. E. P.",
        year=1954,
        title="Some theorems on quadratic forms applied in the study of analysis of variance problems",
        where="Annals of Mathematical Statistics 25, 290-302; from memory, checked by simulation",
        seen=False,
    ),
    "hoyt1947": Source(
        authors="Hoyt, R. S.",
        year=1947,
        title="Probability functions for the modulus and angle of the normal complex variate",
        where="Bell System Technical Journal 26, 318-359; the integral is its own derivation",
        seen=False,
    ),
    "shotgroups": Source(
        authors="Wollschlaeger, D.",
        year=2017,
        title="shotGroups, R package: table DFdistr, extreme spread by 10 million simulated groups",
        where="its help pages; read in our reference notes",
        seen=False,
    ),
    "wilks1963": Source(
        authors="Wilks, S. S.",
        year=1963,
        title="Multivariate statistical outliers",
        where="Sankhya A 25, 407-426; Beta law from memory, checked by simulation",
        seen=False,
    ),
    "wilson1927": Source(
        authors="Wilson, E. B.",
        year=1927,
        title="Probable inference, the law of succession, and statistical inference",
        where="Journal of the American Statistical Association 22, 209-212; as in statsmodels and scipy",
        seen=False,
    ),
    "krishnamoorthy-yu": Source(
        authors="Krishnamoorthy, K. and Yu, J.",
        year=2004,
        title="Modified Nel and Van der Merwe test for the multivariate Behrens-Fisher problem",
        where="Statistics & Probability Letters 66, 161-169; from memory, size checked by simulation",
        seen=False,
    ),
    "krishnamoorthy-lu": Source(
        authors="Krishnamoorthy, K. and Lu, F.",
        year=2010,
        title="A parametric bootstrap solution to the MANOVA under heteroscedasticity",
        where="J. of Statistical Computation and Simulation 80; from memory, size checked by simulation",
        seen=False,
    ),
    "holm1979": Source(
        authors="Holm, S.",
        year=1979,
        title="A simple sequentially rejective multiple test procedure",
        where="Scandinavian Journal of Statistics 6, 65-70; as in statsmodels multipletests",
        seen=False,
    ),
    "wald1947": Source(
        authors="Wald, A.",
        year=1947,
        title="Sequential analysis",
        where="Wiley; bounds by arithmetic, odds by exact counting",
        seen=False,
    ),
}
