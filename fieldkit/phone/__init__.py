"""The same program without signal, inside the phone's browser.

On a server, ``serving.attach`` adds what a phone needs: the kit to fetch (Python runtime, pack,
pages), and the exchange of entries. On a phone, ``engine`` answers in the server's place.

The server builds a *kit* (`phone/kit.py`): the Python runtime for browsers, a *pack* of our own
installed Python, templates and tables (`phone/pack.py`), and the pages and scripts. Its version
is a digest of its contents. A phone fetches it once, part by part, each checked by its digest.

What the engine imports goes to the phone as byte code, and the templates compiled too. Only the
phone's own Python can make it, so it is run once for each version under node, which comes with
the client that fetched the runtime (`phone/compiled.py` asks, `phone/bytecode.py` answers,
`phone/run_python.mjs` runs it; tests run theirs by it too), and kept beside the runtime. It takes
20 s; meanwhile `/phone` asks to come back in a minute. Without node the kit holds sources, and a
first start takes three times as long. The same versions of the packages make the same bytes. A
module that only a server imports is named in `phone/pack.py`: the download has 0.3 MB of room
left. Other people's byte code goes without its table of lines, which was 0.3 MB of it.

- `sw.js`: answers for the network: files from what was fetched, pages from the tab that leads
- `lead.js`: one engine a phone: the tab that holds a lock leads; a silent one loses it
- `engine.js`, `phone/engine.py`: the worker: Python, and in it the same application
- `memory.js`, `unzip.js`: a copy of the engine's memory for the next start; the pack, read as it
  comes
- `store.js`: what is kept: entries are on the disk before their page is answered
- `photos.js`, `photo.js`: the photos kept here, by digest; making one small before it is sent or
  kept
- `exchange.js`, `phone/exchange.py`, `phone/photos.py`: send what is unsent, photos after their
  entries, then read on; repeating does no harm
- `take.js`, `fetch.js`, `field.js`, `line.js`: the page that takes it along, and the worker that
  fetches for it; every page in the field; the line

A photo is named by the digest of its bytes in the log, on a phone, on the server, in a file and
in a backup, and seals cover that name. So nobody may draw it anew on the way. The page draws it
small on a canvas; `web/jpeg.py` then writes it again with nothing in it but the picture, copying
the picture as it is, on the phone as on the server. The server takes in only what that leaves
unchanged, fits its digest and its entry, and can be drawn to its end; the rest is refused by
name. It comes in parts (`phone/photos.take_part`), so a weak signal gets on. Phones fetch the
photos of others up to 60 MB, the newest first; a page says of the rest that it is on the server.

What is on a phone belongs to who took it along and to that company's log. If the session ended,
the line asks to log in again; if somebody else logs in, or another company's log answers at the
address, nothing is sent or fetched. Clearing the phone ends the session at the server before the
service worker lets another page through, with the next signal if there is none now.

The entries in the browser's store are the truth. The engine's SQLite file is a copy: it is made
again from them when it is missing, torn, or from another version. Where the engine cannot start
in time, the tables and the paper tree stay as plain pages, and the next page tries it again.

The first start, from the pack, leaves a copy of its memory in a file of the browser's (or in
Cache storage, in pieces of 4 MB, where there are no such files), before there is anything of
anybody in it; later starts read it straight into place. It is written from where it lies: bytes
that are handed to the browser by way of a response stay in its memory until it thinks of clearing
them. Byte code goes as it is read (`phone/read_once.py`), for its room, so a test holds that each
start reads all of it. A copy that is of no use is made anew by the next start from the pack.

A phone takes along whole jobs, those touched last first: open ones, and finished ones of 90 days,
up to about 5,000 entries. Both limits stand on `/phone` and can be changed. Pages say how many
jobs are on the server only; diagnoses count the causes found out in those too
(`exchange.for_the_field`). The engine's copy of the log is read and written in place in a file
(`static/phone/logfile.js`); a save that the disk refuses is undone page by page. The engine is
ready after 200 entries and takes in the rest between pages, as many at a time as it manages in
30 ms. Kit and jobs are fetched by workers that end, since a page would keep the room they took.

Browsers differ. A page that goes ends its engine, lets go of the lock and aborts its
transactions; one that comes back from the back/forward cache loads itself anew. A tab asks for
the lock again a second after it lost it. Every wait on IndexedDB ends after 30 s with a word; a
fetch of the kit that is silent for 30 s goes on from there. WebKit leaves `Response.redirected`
false behind a service worker, so `field.js` tells it from the address. The service worker is
registered before the kit is fetched: a browser without module workers is told before 7.6 MB.
`persist()` is asked without waiting for the answer, and again whenever `/phone` is opened, until
it is promised. Files that a page needs lie below `static/`, where the service worker finds them.
"""
