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
    year: int | None  # None: an undated page
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
    "iso2533": Source(
        authors="ISO",
        year=1975,
        title="ISO 2533: Standard atmosphere",
        where="standard; values from memory",
        seen=False,
    ),
    "adjust-2020": Source(
        authors="(authors not seen)",
        year=2020,
        title="Adjusting a momentum-based golf clubhead-ball impact model to improve accuracy",
        where="Proceedings 49(1), 47; abstract and Table 1 read",
        seen=True,
    ),
    "henrikson-2020": Source(
        authors="Henrikson, E.; Wood, P.; Broadie, C.; Nuttall, T.",
        year=2020,
        title="The role of friction and tangential compliance on the resultant launch angle of a golf ball",
        where="Proceedings 49(1), 27; abstract read, numbers as others quote them",
        seen=True,
    ),
    "wood-2018": Source(
        authors="Wood, P.; Henrikson, E.; Broadie, C.",
        year=2018,
        title="Influence of face angle and club path on the resultant launch angle of a golf ball",
        where="Proceedings 2(6), 249; abstract read, title from memory",
        seen=True,
    ),
    "lyu-2018": Source(
        authors="Lyu, B.; Kensrud, J.; Smith, L.; Tosaya, T.",
        year=2018,
        title="Aerodynamics of golf balls in still air",
        where="Proceedings 2(6), 238; abstract read",
        seen=True,
    ),
    "mcnally-2018": Source(
        authors="McNally, W.; McPhee, J.; Henrikson, E.",
        year=2018,
        title="The golf shaft's influence on clubhead-ball impact dynamics",
        where="Proceedings 2(6), 245; abstract read, no figure seen",
        seen=True,
    ),
    "smits-smith-1994": Source(
        authors="Smits, A. J.; Smith, D. R.",
        year=1994,
        title="A new aerodynamic model of a golf ball in flight",
        where="Science and Golf II; as others quote it",
        seen=False,
    ),
    "penner-2001": Source(
        authors="Penner, A. R.",
        year=2001,
        title="The physics of golf: the optimum loft of a driver",
        where="American Journal of Physics 69, 563; opening read, equations as others quote them",
        seen=False,
    ),
    "winfield-1994": Source(
        authors="Winfield, D. C.; Tan, T. E.",
        year=1994,
        title="Optimization of clubhead loft and swing elevation angles for maximum distance of a golf drive",
        where="Computers & Structures; abstract read (rigid 3-D model against a robot), title from memory",
        seen=True,
    ),
    "radar-2009": Source(
        authors="radar measurements told in two newsletter interviews",
        year=2009,
        title="Gear effect, face to path and launch by radar",
        where="as others quote them; one page that relays the step from 3.56 to 12.7 mm was read",
        seen=False,
    ),
    "radar-relay": Source(
        authors="a page relaying radar-2009",
        year=None,
        title="How far tilt grows when the strike moves from 0.14 to 0.5 inch off centre",
        where="web page read",
        seen=True,
    ),
    "moi-17": Source(
        authors="Tutelman, D.",
        year=2009,
        title="Appendix to All about gear effect: 17 driver heads of a 2008 test",
        where="the author's site; read",
        seen=True,
    ),
    "tutelman-model": Source(
        authors="Tutelman, D.",
        year=2009,
        title="All about gear effect: spin of a 12.7 mm toe strike, with and without bulge",
        where="the author's site; read in part",
        seen=True,
    ),
    "tutelman-decay": Source(
        authors="Tutelman, D.",
        year=2016,
        title="Spin decay of a golf ball in flight",
        where="the author's site; read",
        seen=True,
    ),
    "roll-10-14": Source(
        authors="Tutelman, D.",
        year=2009,
        title="All about gear effect: roll radii of drivers, 10 to 14 inches",
        where="the author's site; read",
        seen=True,
    ),
    "fairway-10in": Source(
        authors="a clubmaker's column",
        year=2010,
        title="Bulge of fairway woods, 10 inches",
        where="web page read",
        seen=True,
    ),
    "bulge-page": Source(
        authors="a clubmaking page on gear effect",
        year=None,
        title="Bulge radii that bring toe strikes back: 10 inches for wooden heads, 12 for metal ones",
        where="web page read",
        seen=True,
    ),
    "moi-notice-2006": Source(
        authors="USGA and The R&A",
        year=2006,
        title="Notice to manufacturers: limit on clubhead moment of inertia, 5900 + 100 g cm2",
        where="read",
        seen=True,
    ),
    "distance-limit": Source(
        authors="a former technical director of a governing body",
        year=None,
        title="The overall distance standard: 120 mph head, 10 deg, 2520 rpm, limit 317 + 3 yards",
        where="web page read, as the proposal that set it",
        seen=True,
    ),
    "tour-means": Source(
        authors="radar means of a men's professional tour, republished",
        year=None,
        title="Head speed, attack, ball speed, launch, spin, height, landing angle and carry by club",
        where="several stored files read",
        seen=True,
    ),
    "tour-means-women": Source(
        authors="radar means of a women's professional tour, republished",
        year=None,
        title="The same for women",
        where="from memory",
        seen=False,
    ),
    "height-column": Source(
        authors="a newspaper column on one professional's own radar test",
        year=2014,
        title="Driver struck 15 mm higher: 4 deg more launch, 800 rpm less",
        where="read",
        seen=True,
    ),
    "height-table": Source(
        authors="a university golf college, crediting a fitting company",
        year=None,
        title="Driver struck half an inch low, centred and high: carry and spin",
        where="web page read",
        seen=True,
    ),
    "iron-inertia-columns": Source(
        authors="magazine columns quoting makers",
        year=2010,
        title="Ball speed kept when an iron's inertia grows from 2400 to 3000 g cm2",
        where="read",
        seen=True,
    ),
    "robot-summary": Source(
        authors="a blog's summary of a robot test",
        year=None,
        title="A 200 yard shot struck 3/4 inch toe or heel loses about 9 yards",
        where="read",
        seen=True,
    ),
    "dewhurst-2015": Source(
        authors="Dewhurst, P.",
        year=2015,
        title="The Science of the Perfect Swing: face share of launch",
        where="Oxford University Press; as others quote it",
        seen=False,
    ),
    "ball-moment": Source(
        authors="The R&A",
        year=2010,
        title="The moment of impact: research note on force and contact time",
        where="read in our reference notes",
        seen=False,
    ),
    "unscented-1997": Source(
        authors="Julier, S. J.; Uhlmann, J. K.",
        year=1997,
        title="A new extension of the Kalman filter to nonlinear systems",
        where="SPIE 3068; from memory",
        seen=False,
    ),
    "schwager-2007": Source(
        authors="Schwager, T.; Poeschel, T.",
        year=2007,
        title="Coefficient of restitution and linear-dashpot model revisited",
        where="Granular Matter 9, 465; from memory",
        seen=False,
    ),
    "okabe-ito": Source(
        authors="Okabe, M.; Ito, K.",
        year=2008,
        title="Color universal design: how to make figures and presentations friendly to colorblind people",
        where="University of Tokyo page; as packages quote it",
        seen=False,
    ),
}
