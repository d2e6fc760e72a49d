"""A shop's own tests for its limits: made-up air, made-up events, and the findings and alarms that must come of them.

A rehearsal is a TOML file beside the limits that it tries. It goes the way that readings go on a working day, through decoding,
store, judge and alarms, only faster, and in a store that is thrown away.
"""
