"""Where alarms go out: the console, the log, retained MQTT topics.

Each has one method, `alarm(topic, message)`, called at every change of an alarm's state with its topic
(`shop/<booth>/alarm/<id>`) and its JSON message (booth, vehicle, step, state, priority, sentence, what_to_do, …). The state
`normal` means: nothing to show any more.
"""
