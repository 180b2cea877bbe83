"""What a report says, written out once: every number with its unit, every sentence in the reader's language.

Text, page, PDF and picture print these strings and format nothing themselves, so they cannot disagree.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

from facemark.tell.language import Language
from facemark.tell.report import count_line, doubt_sentences, remedy_sentences
from facemark.tell.session_report import NOT_COMPARED
from facemark.tell.units import Units
from facemark.tell.words import (
    NORMAL_95,
    SESSION_BALLS,
    corrected_line,
    face_length,
    flight_lines,
    group_line,
    headline_words,
    mark_doubts,
    place_words,
    scale_line,
    session_words,
    speed_line,
    speed_unit,
    spot_line,
)

LOOK_BALLS = 5  # balls for another look at the face; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkRow:
    """One mark of the table."""

    letter: str
    place: str
    err: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A heading with its lines; no lines: it is left out."""

    title: str
    lines: tuple[str, ...] = ()
    verdict: str = ""  # the one word of a comparison


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """A report in words. ``lines`` are the three that matter, each with its label."""

    language: str
    direction: str
    title: str
    meta: tuple[str, ...]
    kicker: str
    headline: str
    lines: tuple[tuple[str, str], ...]
    comparison: Block
    next_block: Block
    marks_title: str
    marks_note: str
    mark_heads: tuple[str, str, str]
    marks: tuple[MarkRow, ...]
    basis: Block
    doubts: Block
    remedies: Block
    keys: tuple[tuple[str, str], ...]  # sign, words
    alt_drawing: str
    care: str
    safety: str
    units: str
    made: str


def report_content(report: dict[str, Any], units: Units, language: Language) -> Content:
    """The words of a report.

    Parameters
    ----------
    report : dict
        From ``session_report``.
    units : Units
    language : Language
    """
    held: Content = _held(_content(report, units, language))
    return held


def _content(report: dict[str, Any], units: Units, language: Language) -> Content:
    say = language.say
    start_and_bend, speed = flight_lines(report, units, language)
    return Content(
        language=language.code,
        direction=language.direction,
        title=report["player"] or ", ".join(photo["name"] for photo in report["photos"]),
        meta=tuple(_meta(report, units, language)),
        kicker=say("report.pattern"),
        headline=capital(headline_words(report["pattern"]["headline"], language)),
        lines=(
            (say("report.where"), group_line(report, units, language) + "."),
            (say("report.how sure"), _how_sure(report, units, language)),
            (say("report.what"), f"{start_and_bend} {speed}"),
        ),
        comparison=_comparison(report["comparison"], units, language),
        next_block=_next(report, units, language),
        marks_title=say("report.marks"),
        marks_note=say("report.marks note"),
        mark_heads=(say("report.mark"), say("report.place"), say("report.err")),
        marks=tuple(_mark(mark, units, language) for mark in report["marks"]),
        basis=Block(title=say("report.basis"), lines=tuple(_basis(report, units, language))),
        doubts=Block(title=say("doubts"), lines=tuple(_doubts(report, units, language))),
        remedies=Block(title=say("remedies"), lines=tuple(remedy_sentences(report["caveats"], language))),
        keys=tuple(_keys(report, language)),
        alt_drawing=picture_alt(report, units, language, drawn=True),
        care=say("care"),
        safety=say("report.safety"),
        units=say(
            "report.units",
            face=say(f"unit.{units.face}"),
            range=say(f"unit.{units.lengths}"),
            speed=speed_unit(units, language),
        ),
        made=say("report.made", version=report["version"]),
    )


def _held(value: Any) -> Any:
    """The content with every number and its unit or noun held together: no line breaks between them."""
    if isinstance(value, str):
        return re.sub(r"(?<=\d) (?=[^\W\d_]|%)", "\u00a0", value)
    if isinstance(value, tuple):
        return tuple(_held(item) for item in value)
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{item.name: _held(getattr(value, item.name)) for item in fields(value)})
    return value


def date_words(day: str, language: Language) -> str:
    """'25 November 2026' from '2026-11-25'."""
    date = dt.date.fromisoformat(day)
    return language.say("date", day=date.day, month=language.say(f"month.{date.month}"), year=date.year)


def capital(words: str) -> str:
    """The words with a capital first letter."""
    return words[:1].upper() + words[1:]


def _meta(report: Mapping[str, Any], units: Units, language: Language) -> list[str]:
    """Club, day, how many balls, under what conditions."""
    club, told = report["club"], report["conditions"]
    kind = capital(language.say(f"kind.{club['kind']}"))
    found = [kind if club["name"] == f"typical {club['kind']}" else club["name"]]
    found.append(language.say(f"hand.{report['hand']}"))
    if report["day"]:
        found.append(date_words(report["day"], language))
    if report["session"] not in ("", session_words(told["effort_frac"], told["tee_mm"])):  # these come below
        found.append(_session_name(report["session"], language))
    found.append(language.say_n("mark", len(report["marks"])))
    if len(report["photos"]) > 1:
        found.append(language.say_n("photo", len(report["photos"])))
    if told["effort_frac"] is not None:
        found.append(language.say("report.effort", effort=language.number(100 * told["effort_frac"])))
    if told["tee_mm"] is not None:
        found.append(language.say("report.tee", height=face_length(told["tee_mm"], 0, units, language)))
    if told["ball"]:
        found.append(language.say("report.ball", ball=told["ball"]))
    return [*found, *(told[name] for name in ("place", "ground") if told[name])]


def _session_name(name: str, language: Language) -> str:
    """A session's name as somebody gave it; the numbered ones of the page are our own words."""
    numbered = re.fullmatch(r"set (\d+)", name)
    return language.say("plan.set", n=numbered[1]) if numbered else name


def _how_sure(report: Mapping[str, Any], units: Units, language: Language) -> str:
    """What would settle the word; where it is settled, how many balls lie near the sweet spot."""
    pattern = report["pattern"]
    more = pattern["balls_needed"]
    sentences = []
    if more and pattern["label"] == "too few":
        sentences.append(language.say("sure.too few", more=language.say_n("more ball", more)))
    elif more and more > SESSION_BALLS:
        sentences.append(language.say("sure.many more"))
    elif more:
        sentences.append(language.say("sure.more", more=language.say_n("more ball", more)))
    elif more is None:
        sentences.append(language.say("sure.never"))
    else:
        sentences.append(language.say("sure.settled"))
    if pattern["from_group"]:
        sentences.append(language.say("sure.whole"))
    zone = pattern["zone"]
    if zone is not None and pattern["label"] != "too few":
        far = face_length(zone["radius_mm"], 0, units, language)
        sentences.append(language.say("sure.zone", n=zone["n_in"], of=zone["n_balls"], zone=far))
    count = count_line(dict(report), language)
    if count and report["separable"]:
        sentences.append(capital(count) + ".")
    return " ".join(sentences)


def _mark(mark: Mapping[str, Any], units: Units, language: Language) -> MarkRow:
    shown = {**mark, "photo_index": None} if mark["letter"][:1].isdigit() else dict(mark)
    return MarkRow(
        letter=mark["letter"],
        # In a narrow column the line breaks between across and up only.
        place=", ".join(
            part.replace(" ", "\u00a0")
            for part in place_words(mark["toe_mm"], mark["high_mm"], units, language).split(", ")
        ),
        err=face_length(NORMAL_95 * max(mark["toe_err_mm"], mark["high_err_mm"]), 1, units, language),
        note="; ".join(mark_doubts(shown, language)),
    )


def _basis(report: dict[str, Any], units: Units, language: Language) -> list[str]:
    lines = [
        scale_line(report, language),
        spot_line(report, units, language),
        speed_line(report, units, language),
    ]
    if report["corrected"]:
        lines.append(corrected_line(report, language))
    return lines


def _doubts(report: dict[str, Any], units: Units, language: Language) -> list[str]:
    lines = doubt_sentences(report["caveats"], units, language)
    found = []
    for caveat, line in zip(report["caveats"], lines, strict=True):
        numbers = caveat.get("photos") or []
        key = "doubt photo.one" if len(numbers) == 1 else "doubt photo.many"
        where = language.say(key, n=", ".join(map(str, numbers))) if numbers else ""
        if where and line.endswith(")."):
            line = f"{line[:-2]}; {where})."
        elif where:
            line = f"{line[:-1]} ({where})."
        found.append(line)
    return found


def _next(report: Mapping[str, Any], units: Units, language: Language) -> Block:
    """The coach's own homework first, then the planned block; without either, how to go on counting."""
    plan, lines = report["plan"], list(report["homework"])
    title = language.say("report.homework")
    if plan is not None:
        title = title if lines else plan_title(plan, language)
        lines += _plan_lines(plan, units, language)
    if lines:
        return Block(title=title, lines=tuple(lines))
    more = report["pattern"]["balls_needed"]
    if more and more <= SESSION_BALLS:
        first = language.say("next.more", more=language.say_n("more ball", max(more, LOOK_BALLS)))
    else:
        first = language.say("next.again")
    return Block(title=language.say("next.title"), lines=(first, language.say("next.photo")))


def plan_title(plan: Mapping[str, Any], language: Language) -> str:
    """'Next block: strike'."""
    return language.say("plan.title", focus=language.say(f"plan.focus.{plan['focus']}"))


def _plan_lines(plan: Mapping[str, Any], units: Units, language: Language) -> list[str]:
    """The block in a few lines; its whole set-up has a page of its own (``facemark plan``)."""
    dose = language.say(
        "plan.dose",
        balls=language.say_n("ball", plan["n_balls"]),
        effort=language.number(100 * plan["effort_frac"]),
        minutes=plan["n_minutes"],
    )
    gate = plan["gate"]
    if gate is not None:
        toe, heel = (face_length(gate[f"{side}_clear_mm"], 0, units, language) for side in ("toe", "heel"))
        return [dose + ".", language.say("next.gate", toe=toe, heel=heel), language.say("next.good")]
    if plan["focus"] == "strike":
        zone = face_length(plan["zone_mm"], 0, units, language)
        return [dose + ".", language.say("next.zone", zone=zone)]
    return [dose + "."]


def _comparison(found: Mapping[str, Any] | None, units: Units, language: Language) -> Block:
    if found is None:
        return Block(title="")
    day = found["before"]["day"]
    title = (
        language.say("compare.title", day=date_words(day, language))
        if day
        else language.say("compare.title before")
    )
    verdict = language.say(f"verdict.{found['verdict']}")
    lines = _why_not(found, language) if found["verdict"] == NOT_COMPARED else []
    if found["pair"] is not None:
        lines = _pair_lines(found, units, language)
    return Block(title=title, lines=tuple(lines), verdict=verdict)


def _why_not(found: Mapping[str, Any], language: Language) -> list[str]:
    if found["differing"]:
        names = ", ".join(language.say(f"condition.{name}") for name in found["differing"])
        return [language.say("compare.differing", conditions=names)]
    few = any(club["too_few"] for club in found["left_out"])
    return [language.say("compare.too few" if few else "compare.whole")]


def _pair_lines(found: Mapping[str, Any], units: Units, language: Language) -> list[str]:
    """``pair`` is the session before less this one."""
    pair, (before, now) = found["pair"], found["clubs"]
    lines = []
    if pair["nearer"] is not None:
        near, far = sorted(abs(pair["miss_span"][end]) for end in ("least_mm", "most_mm"))
        key = "compare.nearer" if pair["nearer"] == "now" else "compare.farther"
        words = [face_length(value, 1, units, language) for value in (abs(pair["miss_mm"]), near, far)]
        lines.append(language.say(key, far=words[0], least=words[1], most=words[2]))
    if pair["tighter"] is not None:
        key = "compare.tighter" if pair["tighter"] == "now" else "compare.wider"
        spreads = [face_length(club["spread_mm"], 1, units, language) for club in (now, before)]
        lines.append(language.say(key, now=spreads[0], then=spreads[1]))
    if pair["centres_differ"]:
        place = place_words(-pair["toe_mm"], -pair["high_mm"], units, language)
        lines.append(language.say("compare.moved", place=place))
    if lines:
        return lines
    lines.append(language.say("compare.no difference", now=found["n_balls"], then=found["before"]["n_balls"]))
    if found["n_more_each"]:
        lines.append(language.say("compare.more", more=language.say_n("more ball", found["n_more_each"])))
    return lines


def _keys(report: Mapping[str, Any], language: Language) -> list[tuple[str, str]]:
    """The signs that really occur, and what they mean."""
    signs = ["mark"] if any(mark["sure"] for mark in report["marks"]) else []
    signs += ["likely"] if any(not mark["sure"] for mark in report["marks"]) else []
    signs += ["group"] if report["group"] else []
    signs += ["region"] if report["pattern"]["region"] else []
    return [(sign, language.say(f"picture.{sign}")) for sign in [*signs, "sweet spot"]]


def picture_alt(record: dict[str, Any], units: Units, language: Language, *, drawn: bool = False) -> str:
    """The picture in words, equal in content: every mark, the centre, the sweet spot, where the toe is."""
    toe_x, toe_y = record["face"]["toe_px_per_mm"]
    if drawn:
        side = "left" if record["hand"] == "right" else "right"
    elif abs(toe_x) >= abs(toe_y):
        side = "left" if toe_x < 0 else "right"
    else:
        side = "top" if toe_y < 0 else "bottom"
    key = "alt.drawing" if drawn else "alt.photo"
    count = language.say_n("mark", len(record["marks"]))
    parts = [language.say(key, marks=count, side=language.say(f"alt.{side}"))]
    for mark in record["marks"]:
        place = place_words(mark["toe_mm"], mark["high_mm"], units, language)
        parts.append(language.say("alt.mark", letter=mark["letter"], place=place))
    parts.append(group_line(record, units, language) + ".")
    if record["pattern"]["region"]:
        parts.append(language.say("alt.region"))
    return " ".join([*parts, language.say("alt.spot")])


def report_text(content: Content) -> str:
    """The report as plain text."""
    lines = [content.title, " · ".join(content.meta), "", f"{content.kicker}: {content.headline}"]
    lines += [f"{label}: {line}" for label, line in content.lines]
    if content.comparison.title:
        lines += ["", f"{content.comparison.title}: {content.comparison.verdict}"]
        lines += [f"  {line}" for line in content.comparison.lines]
    for block in (content.next_block, content.doubts, content.basis):
        lines += _text_block(block)
    lines += ["", content.marks_title]
    lines += [
        f"{row.letter:>4s}  {row.place} (±{row.err}){f'  {row.note}' if row.note else ''}"
        for row in content.marks
    ]
    whole = "\n".join([*lines, "", content.care, content.safety, content.units, content.made])
    return whole.replace("\u00a0", " ")  # a terminal breaks lines as it likes


def _text_block(block: Block) -> Sequence[str]:
    return ["", block.title, *(f"  - {line}" for line in block.lines)] if block.lines else []
