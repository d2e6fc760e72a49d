"""One record, many renderings: the record and its traces come in, HTML, PDF and CSV go out.

`record` (a dict, the JSON of `booth record --json`) and `Traces` → `outline` (what stands where, in which words) → `html`, `pdf`.
"""
