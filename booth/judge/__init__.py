"""One judge, live and two years on: evidence and a requirement in, a finding out. No clock, file, network or screen in here."""
