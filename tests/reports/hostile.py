"""Texts that would do harm if any renderer took them for commands: HTML, typst, bidirectional controls, endless words."""

from __future__ import annotations

import made_up_record

MARKUP = "<script>alert(1)</script><img src=x onerror=alert(2)> & \"quoted\" 'single'"
TYPST = '#import "@preview/x:1.0.0" #panic("run") `raw` $x^2$ *bold* _slanted_ [content] = heading @label \\ // no comment'
HEBREW = "שלום"
CHINESE = "中文"
OVERRIDE = "abc\u202edef\x00\x1b"
LONG_VAN = "TV-" + "4109" * 30

NOTES = (MARKUP, TYPST, HEBREW, CHINESE, OVERRIDE)


def record() -> dict:
    """The made-up record, full of them wherever people write."""
    record = made_up_record.record() | {"vehicle": LONG_VAN}
    record["site"]["name"] = f"Shop {MARKUP}"
    record["summary"] = [MARKUP, TYPST]
    record["notes"] = [{"text": text, "by": text, "time": made_up_record.at("07:40")} for text in NOTES]
    record["checks"][0]["values"] = {MARKUP: TYPST}
    record["rounds"][0]["steps"][1]["step"] = TYPST
    record["rounds"][0]["steps"][1]["findings"][0] |= {"sentence": MARKUP, "source": MARKUP}
    record["concessions"][0]["reason"] = TYPST
    return record
