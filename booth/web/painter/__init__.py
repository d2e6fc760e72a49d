"""The painter's page: what is so in one booth now, read through its window from four metres, and touched with a glove."""
