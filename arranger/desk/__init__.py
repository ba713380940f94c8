"""Answer the desk, a page in the browser, and keep its songs.

In the order of the work: `places` (places in a text as browsers count them), `colours` (what is what in a text),
`day_choices` (what is chosen on the page), `questions` (what every question has), `chord_choices` (other hands and
lines for a chord), `listening` (the performance for the page), `study_answers` (what is practised), `evening_answers`
(running orders), `answers` (THE table of questions: text and choices in, JSON or bytes out), `engine` (the process that
answers), `folder` (the songs on the disk), `server` (the page's address on this machine), `opening` (how the browser
gets there), `page/` (the page itself).
"""
