"""The demo: the refit of the Sallow Tern. Every name in it is invented.

`cast` says who and where, `jobs` what is to be done, `story` what has happened so far; `scenario`
puts them into one refit document that is always told up to today.
"""
