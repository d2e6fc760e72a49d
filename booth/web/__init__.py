"""The board: live pages beside the logger, in a process of its own. It reads the store and appends journal entries, nothing else.

app.py        the pages put together          board.py      what every page is given
pages.py      one row for each page           all_pages.py  every row of every page module
guard.py      who may come in, with what      security.py   headers, hosts
render.py     templates                       acts.py       people's events into the journal
accounts.py   people and their secrets        sessions.py   who is signed in
serving.py    the server                      process.py    the server as a child of the logger
live.py       the thread that looks           arrivals.py   what came into the store since
snapshot.py   a booth at a moment, pure       numbers.py stage.py notices.py    its parts
painter.py    the same in a painter's words   words.py      the catalogues words/*.toml
stream.py     to every screen, each second    booth_page.py the page and its touches
"""
