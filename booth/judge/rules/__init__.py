"""One file, one rule: each takes a requirement and its evidence and returns a finding."""
