"""Records what the air, the part and the clock did while a coat of paint was wet.

Readings come in from a finishing shop's booths; the process says what the data sheets ask of each step;
one judge compares the two and says *met*, *missed* or *unproven* for every limit, live at the booth and
years later in the paint record of a single van. The lower half (`physics`, `shop`, `judge`, `alarms`) is
pure: it knows no clock, file, network or screen. In the upper half (`readers`, `store`, `notify`,
`reports`, `web`, `cli`) the world comes in.
"""

__version__ = "0.1.0"
