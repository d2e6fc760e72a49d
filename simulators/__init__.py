"""An invented paint shop for one shift: weather, make-up air, booths, vans, instruments and people.

It publishes over MQTT what a real shop's instruments and people would, and keeps the hidden truth apart in a file.
It shares nothing with the logger but the wire format and the writing of times: its physics is its own on purpose,
so that a mistake in the logger's can't hide here. In words and equations: docs/simulator.md.
"""
