"""From what is true now to what must be shown: alarm states as a fold over their own transitions.

`condition` what is wrong | `states` the table of states | `transition` one journalled change | `book` all alarms, what people
do to them | `advance` what time and conditions do to them | `announce` beacon and sound | `payload` what goes out by MQTT.
`rates` stands beside it. Nothing here knows a clock, a file or a network: time is an argument, in
microseconds UTC.
"""
