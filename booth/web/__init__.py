"""The board: live pages beside the logger, in a process of its own. It reads the store and appends journal entries, nothing else.

painter/      one booth now, for its painter    desk/         booths, hand-over, records, ventilation, instruments
people/       accounts, sessions, sign-in       api/          the read API
app.py        the pages put together            board.py      what every page is given
pages.py      one row for each page             all_pages.py  every row of every page module
guard.py      who may come in, with what        security.py   headers, hosts
render.py     templates                         acts.py       people's events into the journal
serving.py    the server                        process.py    the server as a child of the logger
"""
