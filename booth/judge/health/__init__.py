"""Whether an instrument could be believed, and when not: one fault in each file, as pure functions over event time.

`faults` the words | `spans` what is found | `stale` `stuck` `bursts` (jumping, out of range) `disagrees` `clock` `operating`
`calibration` one fault each | `settling` what is found against what the journal says | `overlay` laid over the evidence
| `spells` those of a stretch found among years of them.

A fault's span is [start, end), microseconds UTC of the readings' own times. What is found doesn't depend on the order in which
readings came, on how many came at once, or on where a window begins, as long as it reaches far enough back (`Terms.reach_us`).
"""
