"""A snapshot put into a painter's words: texts and numbers of one screen's language and units, ready for the template."""

from __future__ import annotations

import json
import math
from typing import Any
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo

from booth.shop.measures import LIMITED
from booth.times import clock, duration_text
from booth.web.painter.words import Words, countdown

Shown = dict[str, Any]
SHOWN_AT_ONCE = 3
JUST_UNDER_A_SECOND = 999_999  # what must be done by a moment is never shown as later than it is


def view(snap: Shown, say: Words, zone: ZoneInfo, problem: str | None = None, outdated: bool = False) -> Shown:
    """Everything that the page shows of one booth."""
    return {
        "name": snap["name"],
        "as_of": clock(snap["as_of"], zone, seconds=True),
        "fault": _fault(snap, say, zone, problem, outdated),
        "mode": say("page.mode", mode=say.either(f"mode.{snap['mode']}", "mode.unknown")),
        "climate": _word(_known(snap["climate"], snap), say),
        "ventilation": _word(_known(snap["ventilation"], snap), say),
        "figures": [_figure(_known(one, snap), say) for one in snap["figures"]],
        "vans": [_van(one, snap, say, zone) for one in snap["vans"]],
        **_notices(snap, say),
        "clearance": _clearance(snap, say, zone),
        "sounding": [one["token"] for one in snap["notices"] if one["sound"]],
    }


def _known(told: Shown, snap: Shown) -> Shown:
    """A word about the air as it stands; while nothing is recorded, nobody knows any more."""
    if snap["state"] != "stopped" or told["word"] == "none":
        return told
    return {**told, "word": "unproven", "reasons": [], "trend": None, "untrusted": told.get("untrusted") or "stale"}


def act_value(event: str, mark: str, **facts: Any) -> str:
    """What a button sends: an event, with an id that is the same on every screen that shows the button."""
    told = {name: value for name, value in facts.items() if value is not None}
    identity = str(uuid5(NAMESPACE_URL, json.dumps([event, mark, told], sort_keys=True)))
    return json.dumps([{"id": identity, "event": event, **told}], ensure_ascii=False)


def _fault(snap: Shown, say: Words, zone: ZoneInfo, problem: str | None, outdated: bool) -> str | None:
    """Why this is no live picture, or not one by the limits in force; None where it is one."""
    if problem is not None:
        return say("state.problem")
    if outdated:
        return say("state.outdated")
    if snap["state"] == "stopped":
        return say("state.stopped", time=clock(snap["stopped"], zone))
    if snap["state"] == "silent":
        return say("state.never") if snap["arrived"] is None else say("state.silent", time=clock(snap["arrived"], zone, True))
    return None


def _word(told: Shown, say: Words) -> Shown:
    return {
        "word": say(f"word.{told['word']}"),
        "is": {"in": "is-in", "out": "is-out", "unproven": "is-unproven", "none": "is-none"}[told["word"]],
        "reasons": "; ".join(_reason(one, told["word"], say) for one in told["reasons"]),
    }


def _reason(one: Shown, word: str, say: Words) -> str:
    name = say(f"measure.{one['measure']}")
    if word == "out":
        return say("reason.out", measure=name, value=_value(one["measure"], one["value"], say), limit=_limit(one, say))
    why = say("reason.not_measured") if one["untrusted"] is None else say.either(f"doubt.{one['untrusted']}", "doubt.unwell")
    return say("reason.unproven", measure=name, why=why)


def _value(measure: str, value: float | None, say: Words) -> str:
    return "–" if value is None else say.value(value, LIMITED[measure])


def _limit(one: Shown, say: Words) -> str:
    ends = {name: _value(one["measure"], one[name], say) for name in ("low", "high") if one[name] is not None}
    return say(f"limit.{'both' if len(ends) == 2 else next(iter(ends), 'none')}", **ends)


def _figure(one: Shown, say: Words) -> Shown:
    number, unit = ("–", "") if one["value"] is None else say.number(one["value"], LIMITED[one["measure"]])
    untrusted = one["untrusted"]
    return {
        "measure": one["measure"],
        "name": say(f"measure.{one['measure']}"),
        "number": number,
        "unit": unit,
        "limit": _limit(one, say),
        "trend": one["trend"] or "unknown",
        "trend_word": say(f"trend.{one['trend'] or 'unknown'}"),
        "is": {"in": "is-in", "out": "is-out", "unproven": "is-unproven", "none": "is-none"}[one["word"]],
        "word": say(f"word.{one['word']}"),
        "untrusted": None
        if untrusted is None
        else say("doubt.not_trusted", why=say.either(f"doubt.{untrusted}", "doubt.unwell")),
    }


def _van(van: Shown, snap: Shown, say: Words, zone: ZoneInfo) -> Shown:
    now, as_of = van["now"], snap["as_of"]
    told = [say("van.held")] if now and now["held"] else []
    told += [say("van.told")] if now and now["source"] in ("inferred", "signalled") else []
    return {
        "vehicle": van["vehicle"],
        "open": van["open"],
        "now": now["step"] if now else say("van.between" if van["open"] else "van.not_open"),
        "since": say("van.since", time=countdown(as_of - now["start"])) if now else "",
        "told": ", ".join(told),
        **_coming(van["coming"], as_of, say),
        "beside": [_beside(one, as_of, say) for one in van["beside"]],
        "acts": list(_acts(van, snap["booth"], as_of, say)),
        "early": _early(van, snap, say),
        "zone_acts": list(_zone_acts(van, snap["booth"], say)),
        "confirm": [_confirm(one, van["vehicle"], snap["booth"], say, zone) for one in van["confirm"]],
    }


def _coming(coming: Shown | None, as_of: int, say: Words) -> Shown:
    """The next step; from when it may and until when it must begin, each as (label, key figure). `late`: it should have begun."""
    if coming is None:
        return {"next": say("van.nothing_next"), "may": None, "must": None, "late": False}
    may, must = coming["may"], coming["must"]
    shown = {"next": coming["step"], "may": None, "must": None, "late": False}
    if may is not None:
        ready = may <= as_of
        shown["may"] = (say("van.may"), say("van.may_now")) if ready else (_may_in(coming, say), countdown(may - as_of))
    elif coming["unknown"]:
        shown["may"] = (say("van.may"), say("van.may_unknown"))
    if must is not None:
        shown["late"] = must < as_of
        left = (say("van.must_in"), countdown(max(0, must - as_of - JUST_UNDER_A_SECOND)))
        shown["must"] = (say("van.must_late"), countdown(as_of - must)) if shown["late"] else left
        if shown["late"]:  # what to do then is the alarm's to say
            shown["may"] = None
    return shown


def _may_in(coming: Shown, say: Words) -> str:
    """With how sure it is, where that matters; that it may never come, always."""
    if coming["sooner_s"] is not None and coming["later_s"] is None:
        return say("van.may_in_or_later")
    sure = max(coming["sooner_s"] or 0.0, coming["later_s"] or 0.0)
    return say("van.may_in") if sure < 30 else say("van.may_in_about", minutes=math.ceil(sure / 60))


def _beside(one: Shown, as_of: int, say: Words) -> Shown:
    name = say(f"van.{one['kind']}")
    if one["latest"] is None:
        wait = one["earliest"] is not None and one["earliest"] > as_of
        return {"name": name, "text": say("van.wait", time=countdown(one["earliest"] - as_of)) if wait else "", "late": False}
    late = one["latest"] < as_of
    text = say("van.over" if late else "van.left", time=countdown(one["latest"] - as_of))
    return {"name": name, "text": text, "late": late}


def _acts(van: Shown, booth: str, as_of: int, say: Words):
    """Buttons of a van as (word, value, whether it is the likely one)."""
    now, coming, vehicle, mark = van["now"], van["coming"], van["vehicle"], van.get("mark", "")
    where = {"vehicle": vehicle, "booth": booth}
    if now and now["kind"] == "coat":
        step = {**where, "step": now["step"]}
        yield say("do.finish", step=now["step"]), act_value("step-end", mark, **step), True
        if now["held"]:
            yield say("do.resume"), act_value("resume", mark, **step), False
        else:
            yield say("do.hold"), act_value("hold", mark, **step), False
    elif coming and coming["kind"] == "coat" and not _is_early(coming, as_of):
        yield say("do.start", step=coming["step"]), act_value("step-start", mark, **where, step=coming["step"]), True


def _is_early(coming: Shown, as_of: int) -> bool:
    return coming["may"] is not None and coming["may"] > as_of


def _early(van: Shown, snap: Shown, say: Words) -> tuple[str, str, str] | None:
    """A coat that would come too early takes two touches: (what it says first, the button's word, its value)."""
    now, coming = van["now"], van["coming"]
    if (now and now["kind"] == "coat") or not coming or coming["kind"] != "coat" or not _is_early(coming, snap["as_of"]):
        return None
    value = act_value("step-start", van.get("mark", ""), vehicle=van["vehicle"], booth=snap["booth"], step=coming["step"])
    first = say("do.too_early", step=coming["step"], time=countdown(coming["may"] - snap["as_of"]))
    return first, say("do.start_anyway", step=coming["step"]), value


def _zone_acts(van: Shown, booth: str, say: Words):
    now, coming, mark = van["now"], van["coming"], van.get("mark", "")
    coat = now if now and now["kind"] == "coat" else coming if coming and coming["kind"] == "coat" else None
    if coat is None or len(van["zones"]) < 2:
        return
    running = now["zones"] if now and now["kind"] == "coat" else []
    for zone in van["zones"]:
        event, word = ("step-end", "do.finish_zone") if zone in running else ("step-start", "do.start_zone")
        facts = {"vehicle": van["vehicle"], "booth": booth, "step": coat["step"], "zone": zone}
        yield say(word, step=coat["step"], zone=zone), act_value(event, mark, **facts)


def _confirm(one: Shown, vehicle: str, booth: str, say: Words, zone: ZoneInfo) -> Shown:
    told = ("start", "end", "asked") if one["asked"] else ("start",)
    end = clock(one["end"], zone) if one["end"] is not None else say("do.going_on")
    return {
        "word": say("do.confirm", step=one["step"], **{"from": clock(one["start"], zone), "to": end}),
        "value": json.dumps({"confirm": one["step"], "vehicle": vehicle, "start": one["start"], "end": one["end"]}),
        "not": json.dumps({"not_a_coat": one["step"], "vehicle": vehicle, **{key: one[key] for key in told}}),
    }


def _notices(snap: Shown, say: Words) -> Shown:
    """At most one alarm large, two more that still want a touch in a line each; all others behind one line that names them.

    What the painter must see at any time, the air and the next window, has to stay on the screen whatever stands.
    """
    told = [(one, _notice(one, snap, say)) for one in snap["notices"]]
    fresh = [shown for one, shown in told if one["state"] == "unacknowledged" and not one["calm"]]
    standing = [shown for one, shown in told if one["priority"] == "hazard" and one["state"] == "acknowledged"]
    open_ = [*fresh, *standing][:SHOWN_AT_ONCE]
    for shown in open_[1:]:
        shown["is"] += " is-line"
    folded = [shown for _, shown in told if shown not in open_]
    names = "; ".join(dict.fromkeys(" ".join(filter(None, (one["vehicle"], one["phrase"]))) for one in folded))
    return {"notices": open_, "folded": folded, "folded_words": say("notice.more", count=str(len(folded)), names=names)}


def _notice(one: Shown, snap: Shown, say: Words) -> Shown:
    booth = snap["booth"]
    status = {"acknowledged": "notice.acknowledged", "returned_unacknowledged": "notice.returned"}.get(one["state"])
    phrase, by = _phrase(one, snap, say)
    to_do = one["what_to_do"]
    return {
        "key": one["token"],
        "is": f"is-{one['priority']}" + (" is-quiet" if one["calm"] or one["state"] == "acknowledged" else ""),
        "priority": say(f"notice.{one['priority']}"),
        "phrase": phrase,
        "by": by,
        "vehicle": one["vehicle"],
        "step": one["step"],
        "status": say(status) if status else "",
        "what_to_do": say("notice.if_missed", to_do=to_do) if to_do and one["how"] == "closing" else to_do,
        "calm": say("notice.calm") if one["calm"] and one["state"] != "acknowledged" else "",
        "act": act_value("acknowledge", one["token"], alarm=one["alarm"], booth=booth) if one["may_acknowledge"] else None,
    }


def _phrase(one: Shown, snap: Shown, say: Words) -> tuple[str, str]:
    """What it is, and by how much."""
    if one["about"] == "mode":
        mode = say.either(f"mode.{snap['mode']}", "mode.unknown")
        return say("notice.wrong_mode", mode=mode, step=one["step"] or ""), ""
    group = "doubt" if one["how"] == "instrument" else "requirement"
    what, late = say.either(f"{group}.{one['about']}", "requirement.other"), one["late_us"]
    if one["how"] == "closing" and late is not None and late < 0:
        return say("notice.closing_in", what=what, time=countdown(late + JUST_UNDER_A_SECOND)), ""
    by = ""
    if late is not None and late > 0:
        by = say("notice.late", time=countdown(late))
    elif one["value"] is not None and one["how"].startswith("limit"):
        measure = {"measure": one["about"], "low": one["low"], "high": one["high"]}
        by = say("notice.against", value=_value(one["about"], one["value"], say), limit=_limit(measure, say))
    return say(f"notice.{one['how']}", what=what), by


def _clearance(snap: Shown, say: Words, zone: ZoneInfo) -> Shown | None:
    found = snap["clearance"]
    if found is None or snap["gun_on"]:
        return None
    length = duration_text(found["time"])
    test = say("clearance.test", time=length, date=found["smoke_test"])
    if found["over"]:
        return {"text": say("clearance.over", time=length), "left": "", "test": test, "over": True}
    if found["until"] is None:
        return {"text": say("clearance.stopped", time=length), "left": "", "test": test, "over": False}
    left = countdown(found["until"] - snap["as_of"])
    until = clock(found["until"], zone, seconds=True)
    return {"text": say("clearance.keep", time=until), "left": left, "test": test, "over": False}
