"""What ten balls can say: words, numbers, doubts, hostile input, and agreement with general libraries."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from facemark import caveats as doubts
from facemark.clubs import typical_club
from facemark.errors import MarkError, SetupError
from facemark.explain.centre import AxisWord, find_region, mean_test, region_points_mm
from facemark.explain.evidence import gather_evidence, shared_covariance_mm2
from facemark.explain.groups import chance_of_apartness, find_split, split_limits
from facemark.explain.pattern import Label, describe_pattern
from facemark.explain.span import chi2_quantile, f_above, f_quantile, student
from facemark.explain.spread import SpreadWord, ring_per_spread
from facemark.explain.thresholds import limit_costs, offset_cost, thresholds_for
from facemark.explain.zone import count_zone, rate_span
from facemark.inputs import ClubKind
from facemark.strike import GroupEstimate, SharedError, Strike, StrikeSet
from tests.explain.sets import drawn, exact, strike_set

DRIVER = ClubKind.DRIVER


def keys(pattern: object) -> set[str]:
    return {caveat.key for caveat in pattern.caveats}  # type: ignore[attr-defined]


# --- words ---
@pytest.mark.parametrize(
    ("centre", "spread", "n", "label"),
    [
        # At n = 10, sd 8 the centre is known to 2.26 * 8 / sqrt(10) = 5.7 mm; 2.69 (t at 0.0125) to 6.8 mm.
        ((0.0, 0.0), (5.0, 5.0), 10, Label.CENTRED),
        ((9.0, 0.0), (5.0, 5.0), 10, Label.TOE),
        ((-9.0, 0.0), (5.0, 5.0), 10, Label.HEEL),
        ((0.0, 9.0), (5.0, 5.0), 10, Label.HIGH),
        ((0.0, -9.0), (5.0, 5.0), 10, Label.LOW),
        ((9.0, 9.0), (5.0, 5.0), 10, Label.HIGH_TOE),
        ((-9.0, 9.0), (5.0, 5.0), 10, Label.HIGH_HEEL),
        ((9.0, -9.0), (5.0, 5.0), 10, Label.LOW_TOE),
        ((-9.0, -9.0), (5.0, 5.0), 10, Label.LOW_HEEL),
        ((0.0, 0.0), (14.0, 14.0), 10, Label.SCATTERED),
        ((6.5, 0.0), (8.0, 7.0), 10, Label.NOT_SETTLED),
        ((0.0, 0.0), (5.0, 5.0), 4, Label.TOO_FEW),
    ],
)
def test_headline(centre: tuple[float, float], spread: tuple[float, float], n: int, label: Label) -> None:
    assert describe_pattern(strike_set(exact(n, centre, spread)), DRIVER).label is label


def test_a_real_but_small_offset_is_centred_slightly() -> None:
    pattern = describe_pattern(strike_set(exact(20, (4.0, 0.0), (5.0, 5.0))), DRIVER)
    assert pattern.headline == "centred, slightly toe"
    assert pattern.slight == (Label.TOE,)


def test_scattered_keeps_its_direction() -> None:
    pattern = describe_pattern(strike_set(exact(20, (15.0, 0.0), (14.0, 14.0))), DRIVER)
    assert (pattern.label, pattern.direction, pattern.headline) == (
        Label.SCATTERED,
        Label.TOE,
        "scattered, toe",
    )


def test_the_direction_word_flips_exactly_at_the_t_limit() -> None:
    """Two-sided t at half of 5 %: with s / sqrt(n) = 2 the limit at n = 16 is 2 t(0.9875, 15)."""
    limit = 2.0 * stats.t.ppf(0.9875, 15)
    for factor, word in ((0.999, AxisWord.UNSETTLED), (1.001, AxisWord.PLUS)):
        pattern = describe_pattern(strike_set(exact(16, (limit * factor + 3.0, 0.0), (8.0, 2.0))), DRIVER)
        assert pattern.toe_axis.word is AxisWord.PLUS  # 3 mm beyond: clear
        limits = replace(thresholds_for(DRIVER), worth_toe_mm=1.0, harmless_toe_mm=2.0)
        found = describe_pattern(
            strike_set(exact(16, (limit * factor, 0.0), (8.0, 2.0))), DRIVER, thresholds=limits
        )
        assert found.toe_axis.word is word


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_mirrored_strikes_give_mirrored_words(sign: float) -> None:
    points = exact(12, (8.0, -3.0), (5.0, 4.0), seed=4)
    pattern = describe_pattern(strike_set(points * np.array([sign, 1.0])), DRIVER)
    assert pattern.label is (Label.TOE if sign > 0 else Label.HEEL)
    assert pattern.toe_mm == pytest.approx(sign * 8.0)


@given(st.permutations(range(10)))
def test_order_does_not_matter(order: list[int]) -> None:
    points = exact(10, (6.6, 2.0), (7.0, 5.0), seed=2)
    first, second = (describe_pattern(strike_set(p), DRIVER) for p in (points, points[order]))
    assert first.label is second.label
    assert first.toe_mm == pytest.approx(second.toe_mm)
    assert first.spread is not None
    assert second.spread is not None
    assert first.spread.one_mm == pytest.approx(second.spread.one_mm)


def test_more_balls_needed_do_settle_it() -> None:
    points = exact(10, (6.5, 0.0), (8.0, 7.0))
    pattern = describe_pattern(strike_set(points), DRIVER)
    more = pattern.balls_needed
    assert more is not None
    assert more > 0
    grown = describe_pattern(strike_set(exact(10 + more, (6.5, 0.0), (8.0, 7.0), seed=3)), DRIVER)
    almost = describe_pattern(strike_set(exact(9 + more, (6.5, 0.0), (8.0, 7.0), seed=3)), DRIVER)
    assert grown.toe_axis.word is AxisWord.PLUS
    assert almost.toe_axis.word is AxisWord.UNSETTLED


def test_thresholds_by_kind_and_by_hand() -> None:
    points = exact(12, (0.0, 5.0), (4.0, 3.0))
    assert describe_pattern(strike_set(points), ClubKind.IRON).label is Label.HIGH  # 5 mm matters on an iron
    assert describe_pattern(strike_set(points), DRIVER).label is Label.CENTRED
    strict = replace(thresholds_for(DRIVER), worth_high_mm=4.0)
    assert describe_pattern(strike_set(points), DRIVER, thresholds=strict).label is Label.HIGH


# --- two groups, marks apart ---
def test_two_groups_are_described_each() -> None:
    rng = np.random.default_rng(1)
    points = np.vstack([drawn(rng, 6, (-15.0, 0.0), (3.0, 3.0)), drawn(rng, 6, (15.0, 4.0), (3.0, 3.0))])
    pattern = describe_pattern(strike_set(points), DRIVER)
    assert pattern.label is Label.TWO_GROUPS
    assert [group.n_balls for group in pattern.groups] == [6, 6]
    assert sorted(group.members for group in pattern.groups) == [tuple(range(6)), tuple(range(6, 12))]
    left, right = sorted(pattern.groups, key=lambda group: group.toe_mm)
    assert left.toe_mm == pytest.approx(points[:6, 0].mean())
    assert right.high_mm == pytest.approx(points[6:, 1].mean())


def test_groups_near_each_other_are_not_two() -> None:
    """12 mm apart is asked for, however clear the gap."""
    points = np.array([(x + dx, 0.3 * i) for x in (0.0, 8.0) for i, dx in enumerate((0.0, 0.2, 0.4, 0.6))])
    pattern = describe_pattern(strike_set(points), DRIVER)
    assert pattern.label is not Label.TWO_GROUPS
    assert pattern.split is not None
    assert pattern.split.surely_two


def test_split_axis_agrees_with_a_library() -> None:
    from sklearn.decomposition import PCA

    rng = np.random.default_rng(8)
    for _ in range(20):
        points = drawn(rng, 12, (3.0, 1.0), (9.0, 5.0)) @ np.array([[0.8, -0.6], [0.6, 0.8]])
        scores = np.sort(PCA(n_components=1).fit_transform(points)[:, 0])
        total = ((scores - scores.mean()) ** 2).sum()
        best = max(
            (k * scores[:k].mean() ** 2 + (12 - k) * scores[k:].mean() ** 2) / total for k in range(3, 10)
        )
        split = find_split(points)
        assert split is not None
        assert split.explained_frac == pytest.approx(best)


def test_split_limits_interpolate_and_end() -> None:
    maybe, sure = split_limits(10)
    assert maybe == pytest.approx(0.860, abs=0.002)  # the note's table of section 5.3
    assert sure >= 0.908  # not laxer than the note's
    assert split_limits(17)[0] == pytest.approx((split_limits(16)[0] + split_limits(18)[0]) / 2)
    assert split_limits(1000) == split_limits(200)


def test_a_mark_apart_is_flagged_and_kept() -> None:
    points = np.vstack([exact(11, (0.0, 0.0), (4.0, 4.0)), [[-38.0, 20.0]]])
    pattern = describe_pattern(strike_set(points), DRIVER)
    assert pattern.n_balls == 12
    assert [apart.number for apart in pattern.outliers] == [11]
    assert pattern.outliers[0].headline_without == "centred"
    assert doubts.MARK_STANDS_APART in keys(pattern)


def test_chance_of_apartness_is_wilks_beta() -> None:
    points = np.random.default_rng(3).standard_normal((10, 2))
    S = np.cov(points.T)
    d2 = [float(o @ np.linalg.solve(S, o)) for o in points - points.mean(axis=0)]
    expected = np.minimum(10 * stats.beta.sf(10 * np.array(d2) / 81.0, 1, 3.5), 1.0)
    assert chance_of_apartness(points) == pytest.approx(expected)


# --- numbers against libraries ---
def test_region_is_hotellings() -> None:
    from statsmodels.stats.multivariate import test_mvmean as library_test

    rng = np.random.default_rng(5)
    for n in (5, 8, 10, 20):
        points = drawn(rng, n, (5.0, -2.0), (8.0, 5.0))
        evidence = gather_evidence(strike_set(points))
        edge = region_points_mm(evidence)
        assert edge is not None
        for at in edge[::45]:
            # On the region's edge the library's p is 5 %.
            assert library_test(points, at).pvalue == pytest.approx(0.05, rel=1e-6)
        ours, theirs = mean_test(points, np.zeros(2)), library_test(points, [0, 0])
        assert ours.t2_ratio == pytest.approx(theirs.t2)
        assert ours.chance_frac == pytest.approx(theirs.pvalue)


def test_region_axes_and_tilt() -> None:
    evidence = gather_evidence(strike_set(exact(10, (3.0, 3.0), (6.0, 6.0), tilt=0.8)))
    region = find_region(evidence)
    assert region is not None
    limit = 2 * 9 / 8 * stats.f.ppf(0.95, 2, 8)  # 10.033, printed in the note's check of section 2
    assert limit == pytest.approx(10.033, abs=5e-4)
    assert region.long_mm == pytest.approx(math.sqrt(limit * 36.0 * 1.8 / 10))
    assert region.short_mm == pytest.approx(math.sqrt(limit * 36.0 * 0.2 / 10))
    assert region.tilt_deg == pytest.approx(45.0)


def test_axis_interval_and_equivalence_agree_with_libraries() -> None:
    from statsmodels.stats.weightstats import DescrStatsW

    rng = np.random.default_rng(6)
    for _ in range(40):
        points = drawn(rng, 10, (3.0, 0.0), (7.0, 7.0))
        pattern = describe_pattern(strike_set(points), DRIVER)
        span = pattern.toe_axis.span
        assert span is not None
        theirs = stats.ttest_1samp(points[:, 0], 0.0)
        interval = theirs.confidence_interval(0.95)
        assert (span.least_mm, span.most_mm) == pytest.approx((interval.low, interval.high))
        assert pattern.toe_axis.chance_frac == pytest.approx(theirs.pvalue)
        equivalent = DescrStatsW(points[:, 0]).ttost_mean(-9.0, 9.0)[0] <= 0.05
        if pattern.toe_axis.word in (AxisWord.CENTRED, AxisWord.UNSETTLED):
            assert (pattern.toe_axis.word is AxisWord.CENTRED) == equivalent


def test_spread_intervals() -> None:
    """Chi-square per axis; factors 0.688 and 1.826 at n = 10 are those printed in the note."""
    pattern = describe_pattern(strike_set(exact(10, (0.0, 0.0), (8.0, 8.0))), DRIVER)
    spread = pattern.spread
    assert spread is not None
    assert spread.toe_span is not None
    assert spread.toe_span.least_mm == pytest.approx(8.0 * 0.688, abs=0.005)
    assert spread.toe_span.most_mm == pytest.approx(8.0 * 1.826, abs=0.005)
    assert spread.n_free == pytest.approx(18.0)  # a circle counts twice
    assert spread.one_span.most_mm == pytest.approx(8.0 * math.sqrt(18 / stats.chi2.ppf(0.025, 18)))
    assert spread.ring_mm == pytest.approx(8.0 * math.sqrt(2 * math.log(5)))


@pytest.mark.parametrize(
    ("ratio", "k50", "k80", "k95"),
    # Table of section 3.3, four digits printed.
    [
        (1.0, 1.1774, 1.7941, 2.4477),
        (0.8, 1.1680, 1.7901, 2.4629),
        (0.6, 1.1322, 1.7786, 2.5240),
        (0.5, 1.1010, 1.7743, 2.5752),
        (0.4, 1.0608, 1.7766, 2.6329),
        (0.3, 1.0158, 1.7868, 2.6877),
    ],
)
def test_ring_table(ratio: float, k50: float, k80: float, k95: float) -> None:
    for frac, k in ((0.5, k50), (0.8, k80), (0.95, k95)):
        assert ring_per_spread(ratio, frac) == pytest.approx(k, abs=6e-5)


def test_tilt_is_stated_only_when_shown() -> None:
    for tilt in (0.5, 0.7):
        points = exact(10, (0.0, 0.0), (8.0, 6.0), tilt=tilt)
        pattern = describe_pattern(strike_set(points), DRIVER)
        interval = stats.pearsonr(*points.T).confidence_interval(0.95)
        assert pattern.spread is not None
        assert (pattern.spread.tilt_deg is not None) == (interval.low > 0)


def test_quantiles_are_the_librarys() -> None:
    assert student(0.975, 9.0) == pytest.approx(stats.t.ppf(0.975, 9))
    assert chi2_quantile(0.025, 17.3) == pytest.approx(stats.chi2.ppf(0.025, 17.3))
    assert f_quantile(0.95, 2, 8.4) == pytest.approx(stats.f.ppf(0.95, 2, 8.4))
    assert f_above(3.3, 2, 8.4) == pytest.approx(stats.f.sf(3.3, 2, 8.4))


def test_wilson_agrees_with_two_libraries() -> None:
    from statsmodels.stats.proportion import proportion_confint

    for n in (1, 5, 10, 33):
        for k in range(n + 1):
            ours = rate_span(k, n)
            low, high = proportion_confint(k, n, method="wilson")
            assert (ours.least_frac, ours.most_frac) == pytest.approx((low, high), abs=1e-12)
            theirs = stats.binomtest(k, n).proportion_ci(method="wilson")
            assert (ours.least_frac, ours.most_frac) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


def test_open_data_one_species_is_one_group_and_two_are_two() -> None:
    """Petal length and width of the iris flowers that come with scikit-learn, cm read as 5 mm."""
    from sklearn.datasets import load_iris

    iris = load_iris()
    petals = iris.data[:, 2:] * 5.0 - np.array([10.0, 4.0])
    # The bounds of T at n = 20 and 50 are fixed tables; one species must stay below them, two exceed them.
    for species in range(3):
        split = find_split(petals[iris.target == species][:20])
        assert split is not None
        assert not split.surely_two
    both = describe_pattern(strike_set(petals[iris.target != 2][::5]), DRIVER)
    assert both.label is Label.TWO_GROUPS
    assert {group.n_balls for group in both.groups} == {10}


# --- doubts (section 9) ---
def test_own_errors_are_not_added_twice() -> None:
    points = exact(10, (3.0, 0.0), (8.0, 7.0))
    clean = describe_pattern(strike_set(points), DRIVER)
    blurred = describe_pattern(strike_set(points, err_mm=3.0), DRIVER)
    assert blurred.toe_err_mm == pytest.approx(clean.toe_err_mm)  # already inside the scatter
    assert blurred.spread is not None
    assert blurred.spread.toe_mm == pytest.approx(math.sqrt(64.0 - 9.0))  # taken out of the spread


def test_shared_error_does_not_shrink() -> None:
    shared = SharedError(sweet_toe_mm=2.0, sweet_high_mm=2.0)
    for n in (10, 100, 1000):
        pattern = describe_pattern(strike_set(exact(n, (0.0, 0.0), (8.0, 7.0)), shared=shared), DRIVER)
        assert pattern.toe_err_mm == pytest.approx(math.sqrt(64.0 / n + 4.0))
        span = pattern.toe_axis.span
        assert span is not None
        assert span.most_mm >= 1.96 * 2.0  # never below +-3.9 mm, whatever n


def test_shared_covariance_by_hand() -> None:
    shared = SharedError(toe_mm=0.3, high_mm=0.4, scale_frac=0.02, turn_deg=2.0, sweet_toe_mm=0.4)
    B = shared_covariance_mm2(np.array([10.0, 5.0]), shared)
    turn = math.radians(2.0)
    assert B[0, 0] == pytest.approx(0.09 + 0.16 + 0.04 + (turn * 5.0) ** 2)
    assert B[1, 1] == pytest.approx(0.16 + 0.01 + (turn * 10.0) ** 2)
    assert B[0, 1] == pytest.approx(0.02**2 * 50.0 - turn**2 * 50.0)


def test_region_covers_with_shared_errors_by_monte_carlo() -> None:
    """JCGM 101 in small: 600 sets with drawn origin and scale; the region holds the truth in 92 to 98 %."""
    rng = np.random.default_rng(12)
    shared = SharedError(sweet_toe_mm=1.5, sweet_high_mm=1.5, scale_frac=0.02)
    held = 0
    for _ in range(600):
        points = drawn(rng, 20, (6.0, -3.0), (8.0, 7.0)) * (1.0 + 0.02 * rng.standard_normal())
        points += 1.5 * rng.standard_normal(2)
        evidence = gather_evidence(strike_set(points, shared=shared))
        edge = region_points_mm(evidence)
        assert edge is not None
        off = np.array([6.0, -3.0]) - evidence.mean_mm
        on_edge = edge[0] - evidence.mean_mm
        V = np.linalg.inv(evidence.total_mm2)
        held += off @ V @ off <= on_edge @ V @ on_edge
    assert 0.92 <= held / 600 <= 0.98


def test_unequally_known_marks_are_not_ten_clean_points() -> None:
    points = exact(10, (0.0, 0.0), (3.0, 3.0), seed=7)
    errs = np.array([0.5] * 4 + [8.0] * 6)
    evidence = gather_evidence(strike_set(points, err_mm=errs))
    assert evidence.n_free < 6.0  # four good marks and a bit
    assert np.hypot(*(evidence.mean_mm - points[:4].mean(axis=0))) < np.hypot(
        *(points.mean(axis=0) - points[:4].mean(axis=0))
    )


def test_spread_below_reading_is_said() -> None:
    pattern = describe_pattern(strike_set(exact(10, (0.0, 0.0), (2.0, 2.0)), err_mm=1.9), DRIVER)
    assert doubts.SPREAD_BELOW_READING in keys(pattern)
    assert pattern.spread is not None
    assert pattern.spread.one_span.most_mm > 0.0


def test_a_rough_sweet_spot_cannot_be_settled_by_balls() -> None:
    shared = SharedError(sweet_toe_mm=6.0, sweet_high_mm=1.0)
    pattern = describe_pattern(strike_set(exact(15, (5.0, 0.0), (5.0, 5.0)), shared=shared), DRIVER)
    assert pattern.toe_axis.word is AxisWord.UNSETTLED
    assert pattern.balls_needed is None
    assert doubts.SWEET_SPOT_LIMITS in keys(pattern)


def unseparated(n_least: int, n_balls: float = 9.0, spread_err: float = 1.0) -> StrikeSet:
    group = GroupEstimate(
        toe_mm=10.0,
        high_mm=0.0,
        toe_err_mm=0.8,
        high_err_mm=0.8,
        toe_spread_mm=6.0,
        high_spread_mm=5.0,
        toe_spread_err_mm=spread_err,
        high_spread_err_mm=spread_err,
        n_balls=n_balls,
        n_balls_err=1.5,
    )
    marks = tuple(Strike(toe_mm=40.0 + i, high_mm=30.0) for i in range(n_least))  # must not be used
    return StrikeSet(strikes=marks, n_least=n_least, separable=False, group=group)


def test_a_group_not_told_apart_is_used_as_a_group() -> None:
    pattern = describe_pattern(unseparated(5), DRIVER)
    assert pattern.from_group
    assert (pattern.toe_mm, pattern.n_balls) == (10.0, 7)  # 9 balls less their error
    assert pattern.toe_err_mm == pytest.approx(math.sqrt(36.0 / 7.5 + 0.64))
    assert pattern.zone is None
    assert pattern.split is None
    assert doubts.MARKS_UNSEPARATED in keys(pattern)
    almost = describe_pattern(unseparated(5, n_balls=11.4), DRIVER)  # 9.9 less their error
    assert "9 of the ten a usual set has" in [c.detail for c in almost.caveats]
    rough = describe_pattern(unseparated(5, spread_err=2.5), DRIVER)
    assert rough.toe_axis.span is not None
    assert pattern.toe_axis.span is not None
    assert rough.toe_axis.span.most_mm > pattern.toe_axis.span.most_mm  # a rough spread costs freedom


def test_a_group_of_few_balls_gets_no_word() -> None:
    assert describe_pattern(unseparated(2, n_balls=4.0), DRIVER).label is Label.TOO_FEW


def test_a_word_that_hangs_on_a_likely_mark_is_not_settled() -> None:
    points = exact(9, (5.2, 0.0), (5.0, 4.0), seed=3)
    base = strike_set(points)
    assert describe_pattern(base, DRIVER).label is not Label.TOE
    likely = tuple(Strike(toe_mm=16.0, high_mm=y, sure=False) for y in (-2.0, 0.0, 2.0))
    pattern = describe_pattern(replace(base, strikes=base.strikes + likely), DRIVER)
    assert pattern.label is Label.NOT_SETTLED
    assert doubts.WORD_HANGS_ON_MARK in keys(pattern)


# --- zone ---
def test_zone_counts_and_close_calls() -> None:
    points = [(0.0, 0.0), (11.9, 0.0), (0.0, 12.5), (20.0, 0.0)]
    zone = count_zone(strike_set(points, err_mm=0.5, n_balls=6), 12.0)
    assert (zone.n_in, zone.n_balls, zone.close) == (2, 6, (1, 2))
    assert (zone.n_surely_in, zone.n_maybe_in) == (1, 5)  # two at the line, two not seen
    assert zone.rate.least_frac == pytest.approx(0.0968, abs=5e-5)  # Wilson 2 of 6


# --- costs behind the limits ---
@pytest.mark.parametrize(("offset", "loss"), [(6.0, 0.003), (9.0, 0.007), (15.0, 0.018)])
def test_speed_loss_of_the_note(offset: float, loss: float) -> None:
    """Driver heel-toe, 0.200 kg and 4.5e-4 kg m2: three digits printed in section 4."""
    club = replace(typical_club(DRIVER), head_kg=0.200, moi_vertical_kgm2=4.5e-4)
    assert offset_cost(club, offset, 0.0).speed_lost_frac == pytest.approx(loss, abs=0.0006)


def test_costs_are_told_for_every_kind() -> None:
    for kind in ClubKind:
        costs = limit_costs(kind, thresholds_for(kind))
        assert all(0.0 < cost.speed_lost_frac < 0.1 for cost in costs.values())


# --- hostile input ---
def test_no_strike_is_an_error_with_a_remedy() -> None:
    with pytest.raises(MarkError, match="at least one strike"):
        describe_pattern(StrikeSet(strikes=()), DRIVER)


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_few_balls_say_so_and_nothing_else(n: int) -> None:
    pattern = describe_pattern(strike_set(exact(10, (20.0, 0.0), (1.0, 1.0))[:n]), DRIVER)
    assert pattern.label is Label.TOO_FEW
    assert pattern.balls_needed == 5 - n
    assert pattern.direction is None
    assert pattern.region is None
    assert doubts.FEW_STRIKES in keys(pattern)
    assert (pattern.toe_err_mm is None) == (n == 1)


def test_identical_marks_have_no_region_and_no_word() -> None:
    pattern = describe_pattern(strike_set([(10.0, 3.0)] * 8), DRIVER)
    assert pattern.label is Label.NOT_SETTLED
    assert (pattern.region, pattern.spread, pattern.toe_err_mm) == (None, None, None)
    assert {doubts.SAME_PLACE_TWICE, doubts.MARKS_IN_LINE} <= keys(pattern)


def test_marks_on_a_level_line_are_judged_along_it_only() -> None:
    pattern = describe_pattern(strike_set([(12.0 + i, 0.0) for i in range(8)]), DRIVER)
    assert pattern.label is Label.TOE
    assert pattern.high_axis.word is AxisWord.UNSETTLED
    assert pattern.high_axis.span is None
    assert pattern.region is None
    assert pattern.spread is not None
    assert pattern.spread.word is SpreadWord.UNSETTLED


def test_marks_on_a_sloping_line_have_axes_but_no_region() -> None:
    pattern = describe_pattern(strike_set([(2.0 * i, float(i)) for i in range(8)]), DRIVER)
    assert pattern.region is None
    assert pattern.toe_axis.span is not None
    assert pattern.high_axis.span is not None
    assert doubts.MARKS_IN_LINE in keys(pattern)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_none_are_refused_by_number(bad: float) -> None:
    points = exact(6, (0.0, 0.0), (5.0, 5.0))
    points[3, 1] = bad
    with pytest.raises(SetupError, match="strike 4"):
        describe_pattern(strike_set(points), DRIVER)


def test_negative_errors_and_impossible_places_are_refused() -> None:
    with pytest.raises(SetupError, match="negative"):
        describe_pattern(StrikeSet(strikes=(Strike(toe_mm=0, high_mm=0, toe_err_mm=-1.0),)), DRIVER)
    with pytest.raises(SetupError, match="beyond any club face"):
        describe_pattern(strike_set([(900.0, 0.0)]), DRIVER)


def test_a_mark_off_the_face_is_told_and_kept() -> None:
    points = np.vstack([exact(9, (0.0, 0.0), (5.0, 5.0)), [[-90.0, 0.0]]])
    pattern = describe_pattern(strike_set(points), DRIVER)
    assert pattern.n_balls == 10
    assert doubts.MARK_OFF_FACE in keys(pattern)


def test_unseen_balls_are_told() -> None:
    pattern = describe_pattern(strike_set(exact(8, (0.0, 0.0), (5.0, 5.0)), n_balls=10), DRIVER)
    assert doubts.BALLS_UNSEEN in keys(pattern)
    assert pattern.n_hit == 10


@given(
    st.lists(
        st.tuples(st.floats(-100, 100, allow_nan=False), st.floats(-100, 100, allow_nan=False)),
        min_size=1,
        max_size=25,
    )
)
def test_anything_typed_gets_an_answer(points: list[tuple[float, float]]) -> None:
    pattern = describe_pattern(strike_set(points), DRIVER)
    assert pattern.headline
    if pattern.region is not None:
        assert pattern.region.long_mm >= pattern.region.short_mm >= 0.0
    if pattern.offset is not None:
        assert (
            pattern.offset.span.least_mm <= pattern.offset.distance_mm <= pattern.offset.span.most_mm + 1e-6
        )
