"""The demonstration: a simulated plant, a broker, the ordinary logger, and a view of them. Nothing below here knows of it."""
