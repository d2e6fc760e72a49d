"""Where the world's readings and events come in: live over MQTT, or replayed from files.

Both ways end in the same outcomes (`received.py`): a reading, an event, a tick, or something set aside with the reason. Nothing
is dropped in silence, and nothing that comes in can raise.
"""
