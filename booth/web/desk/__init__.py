"""The pages of supervisor, EHS and maintenance: booths, hand-over, records, ventilation, instruments."""
