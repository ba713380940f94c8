"""Find many songs, read them, make their parts, list them in an index and look them up.

In reading order: `scan` (the folder walked; where PDFs go, and clashes), `catalogue` (the facts of songs, how
titles are filed, words as they are looked up), `store` (a file of SQLite: opened, locked, made anew), `ledger`
(what has been made, in the store beside the PDFs), `workers` (jobs for any executor, and workers that die),
`carried` and `cluster` (the same jobs for other machines: all that they need goes along, by a scheduler of dask),
`reading` (songs read for their facts), `make` (what a worker does: bytes in, bytes out; what became of each song),
`plan` (what has changed), `listing` (the index), `run` (makes and writes), `find` (songs looked up, in a store in
the user's cache). One process reads and writes; workers get bytes and give bytes. A PDF is written under another
name, told to the store in a transaction, and only then put in its place: after an end at any moment, what the store
says of a PDF that is not there is not believed, and what is there is known to be ours. Each line of the store has a
digest of itself: what a damaged line told is made again. A file that neither the store nor its own digest
(`digests.as_made`) knows is somebody else's and is never written over; what the store does not know, or what links
lead to, is never removed. Another kind of PDF for each song is an entry in `scan.NAMING` and a stage in `make`.
"""
