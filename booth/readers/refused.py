"""Reasons for setting something aside instead of using it."""

from __future__ import annotations

REASONS = {
    "not_utf8": "the bytes are no text",
    "not_json": "the text is no JSON, or an object names a key twice",
    "too_large": "longer than any reading or event is",
    "unknown_topic": "no booth and no configured topic filter has this topic",
    "unknown_point": "the booth has no such point",
    "no_value": "there is no value in it",
    "not_a_number": "the value is no finite number, or no word that the point knows",
    "wrong_unit": "the unit doesn't fit the point's kind of quantity",
    "out_of_range": "outside what the instrument can measure",
    "bad_time": "no time, or not one unambiguous moment",
    "future_time": "later than now, so that a clock is wrong",
    "retained": "an old message that the broker kept, without a time of its own",
    "bad_event": "the event lacks what its kind needs",
    "event_not_by_mqtt": "decisions need a person who is signed in",
    "bad_row": "a row of a file that has other cells than its header",
}


class Refused(Exception):
    """Why something can't be used: a code word out of REASONS, and a sentence for the person who must mend it."""

    def __init__(self, reason: str, sentence: str) -> None:
        assert reason in REASONS, reason
        super().__init__(sentence)
        self.reason = reason
        self.sentence = sentence


def quoted(value: object, limit: int = 60) -> str:
    """What came, for a sentence: escaped, on one line, cut short; null, true and false as JSON writes them."""
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    try:
        text = ascii(str(value)) if isinstance(value, str) else ascii(value)
    except RecursionError:
        return "lists in lists in lists…"
    return text if len(text) <= limit else text[:limit] + "…"
