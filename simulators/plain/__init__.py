"""Was the limit really kept? A plain evaluation of what was truly so, for holding the logger's verdicts against.

It knows the true air, the true skin and the true trigger of the gun for every second of a simulated shift, and none of what
instruments and buttons said. It shares no code with booth.judge on purpose, reads the same TOML files with a reader of its own,
and prefers the slow and obvious to the clever. `margin` says by how much a limit was kept (positive) or missed (negative).
"""
