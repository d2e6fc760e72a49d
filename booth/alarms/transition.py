"""One change of one alarm's state, and its form in the journal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from booth.alarms.condition import Condition
from booth.alarms.states import AlarmError, Event, State
from booth.judge.finding import Window
from booth.times import SECOND, format_time, parse_time


@dataclass(frozen=True)
class Transition:
    """Everything that a reader of the journal needs to know about it.

    `at` is when it took effect (microseconds UTC), by the time of the readings and events; `cause` is the event; `by`
    is who did it, empty when time or the readings did; `condition` is a snapshot; `shelved_until` is set where the
    alarm went on the shelf.
    """

    alarm_id: str
    before: State
    after: State
    at: int
    cause: Event
    condition: Condition
    by: str = ""
    shelved_until: int | None = None


def transition_body(transition: Transition) -> dict[str, Any]:
    """The journal entry's body, JSON-safe: times RFC 3339. `by` isn't in it, being personal: see transition_private."""
    return {
        "alarm": transition.alarm_id,
        "from": transition.before.value,
        "to": transition.after.value,
        "at": format_time(transition.at),
        "cause": transition.cause.value,
        "shelved_until": _text(transition.shelved_until),
        "condition": _condition_body(transition.condition),
    }


def transition_private(transition: Transition) -> dict[str, str]:
    """What may only enter the journal as a salted commitment."""
    return {"by": transition.by} if transition.by else {}


def read_transition(body: Mapping[str, Any], private: Mapping[str, str | None] | None = None) -> Transition:
    """The transition that transition_body wrote; a redacted `by` is read as empty. AlarmError names what is wrong in the body."""
    try:
        return Transition(
            alarm_id=body["alarm"],
            before=State(body["from"]),
            after=State(body["to"]),
            at=parse_time(body["at"]),
            cause=Event(body["cause"]),
            condition=_read_condition(body["condition"]),
            by=(private or {}).get("by") or "",
            shelved_until=_moment(body["shelved_until"]),
        )
    except KeyError as missing:
        raise AlarmError(f"the journal's entry on alarm {body.get('alarm', '?')} lacks the key {missing}") from None
    except (TypeError, ValueError) as problem:
        name = body.get("alarm", "?")
        raise AlarmError(f"the journal's entry on alarm {name} can't be read: {problem}") from None


def _condition_body(condition: Condition) -> dict[str, Any]:
    window = condition.window
    body = asdict(condition)
    body["since"], body["until"] = _text(condition.since), _text(condition.until)
    body["window"] = window and window_body(window)
    return body


def _read_condition(body: Mapping[str, Any]) -> Condition:
    window = body["window"]
    times = {
        "since": parse_time(body["since"]),
        "until": _moment(body["until"]),
        "window": window and _read_window(window),
    }
    return Condition(**{**body, **times})


def window_body(window: Window) -> dict[str, Any]:
    """`sooner_s` and `later_s`: how sure the moments are."""
    sure = {"sooner_s": _seconds(window.sooner_us), "later_s": _seconds(window.later_us)}
    return {"earliest": _text(window.earliest), "latest": _text(window.latest)} | sure


def _read_window(body: Mapping[str, Any]) -> Window:
    """Entries of earlier versions don't say how sure it was."""
    sure = (None if (seconds := body.get(name)) is None else round(seconds * SECOND) for name in ("sooner_s", "later_s"))
    return Window(_moment(body["earliest"]), _moment(body["latest"]), *sure)


def _seconds(us: int | None) -> float | None:
    return None if us is None else us / SECOND


def _text(us: int | None) -> str | None:
    return None if us is None else format_time(us)


def _moment(text: str | None) -> int | None:
    return None if text is None else parse_time(text)
